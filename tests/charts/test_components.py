import numpy as np
import pytest

from defectlog.charts import TooFewValuesError, within_share

# Six batches of an intermediate, five preparations of the dyestuff from each, grams of standard
# colour: Davies and Goldsmith (eds), Statistical Methods in Research and Production, 4th ed. 1972,
# section 6.4, as the R package lme4 carries them.
DYESTUFF = np.array(
    [
        [1545, 1440, 1440, 1520, 1580],
        [1540, 1555, 1490, 1560, 1495],
        [1595, 1550, 1605, 1510, 1560],
        [1445, 1440, 1595, 1465, 1545],
        [1595, 1630, 1515, 1635, 1625],
        [1520, 1455, 1450, 1480, 1445],
    ]
)


def dyestuff() -> tuple[list[float], list[float]]:
    """The mean of each batch, with its standard error by the variance inside batches."""
    inside = float(np.mean(np.var(DYESTUFF, axis=1, ddof=1)))
    assert inside == pytest.approx(2451.25)  # printed there as the residual variance
    return DYESTUFF.mean(axis=1).tolist(), [(inside / 5) ** 0.5] * 6


def test_the_variance_between_batches_is_the_one_in_print():
    means, errors = dyestuff()

    found = within_share([means], [errors])

    # Printed there as the variance from batch to batch; of that of the means, 1764.05 + 2451.25/5,
    # the preparations make up 490.25 / 2254.3.
    assert found.between == pytest.approx(1764.05, abs=5e-3)
    assert found.value == pytest.approx(490.25 / 2254.3)


def test_the_interval_is_that_of_a_variance():
    # Chi-square of 5: 0.831 and 12.833, NIST/SEMATECH e-Handbook, table 1.3.6.7.4.
    found = within_share(*([one] for one in dyestuff()))

    assert found.freedom == 5
    assert found.low == pytest.approx(found.value * 0.831 / 5, rel=1e-3)
    assert found.high == pytest.approx(found.value * 12.833 / 5, rel=1e-3)


def test_groups_may_lie_anywhere_and_one_alone_says_nothing():
    means, errors = dyestuff()
    shifted = [[mean + 500 for mean in means], means, [9000.0]]

    found = within_share(shifted, [errors, errors, [1e6]])

    assert found.freedom == 10
    assert found.between == pytest.approx(1764.05, abs=5e-3)


def test_figures_that_scatter_less_than_they_are_unsure_leave_nothing_between():
    # Variance of 1, 2, 3: 1; mean squared error (1 + 4 + 4) / 3 = 3.
    found = within_share([[1.0, 2.0, 3.0]], [[1.0, 2.0, 2.0]])

    assert (found.value, found.between) == (pytest.approx(3), 0)
    assert within_share([[1.0, 1.0]], [[0.1, 0.1]]).value == float("inf")


def test_ninety_five_of_a_hundred_intervals_hold_the_true_share():
    # Builds differ by 2, each is unsure by 1, 2 or 3: mean square 14/3 of 4 + 14/3.
    rng = np.random.default_rng(11)
    errors = np.tile([1.0, 2.0, 3.0], 4)
    true = (14 / 3) / (4 + 14 / 3)
    values = rng.normal(0, 2, (2000, 12)) + rng.normal(0, errors, (2000, 12))

    found = [within_share([row.tolist()], [errors.tolist()]) for row in values]

    held = np.mean([one.low <= true <= one.high for one in found])
    assert held == pytest.approx(0.95, abs=0.02)
    assert np.mean([1 / one.value for one in found]) == pytest.approx(1 / true, rel=0.03)


def test_single_figures_have_no_scatter():
    with pytest.raises(TooFewValuesError):
        within_share([[1.0], [2.0]], [[0.1], [0.1]])
    with pytest.raises(ValueError, match="one error to each"):
        within_share([[1.0, 2.0]], [[0.1]])
