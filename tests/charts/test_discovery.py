import numpy as np
import pytest
from scipy.stats import false_discovery_control

from defectlog.charts import ChartInputError, can_be_found, false_discovery

# Y. Benjamini and Y. Hochberg, J. R. Stat. Soc. B 57, 1995, section 3.2: fifteen p-values of a
# trial on heart attacks. At 0.05 the procedure rejects four where Bonferroni rejects three.
PRINTED = [
    *(0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344),
    *(0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1.000),
]


def test_four_of_the_fifteen_are_found_as_benjamini_and_hochberg_print():
    q = false_discovery(PRINTED)

    assert [value <= 0.05 for value in q] == [True] * 4 + [False] * 11
    # By hand: 0.0095 * 15 / 4.
    assert q[3] == pytest.approx(0.035625)


def test_q_values_are_those_of_scipy():
    drawn = np.random.default_rng(3).random(200) ** 2

    for p in (PRINTED, drawn.tolist(), [0.04, 0.04, 0.04]):
        assert false_discovery(p) == pytest.approx(false_discovery_control(p))


def test_the_order_given_is_kept():
    assert false_discovery(reversed(PRINTED)) == tuple(reversed(false_discovery(PRINTED)))


def test_no_question_has_no_answer_and_no_share_is_refused():
    assert false_discovery([]) == ()
    for wrong in ([1.2], [-0.1], [float("nan")]):
        with pytest.raises(ChartInputError, match="not between 0 and 1"):
            false_discovery(wrong)


def test_what_could_never_pass_is_not_asked_and_does_not_count():
    # By hand, at 0.05: all four are at most 0.05; three at most 0.05 / 2, still more than 2;
    # three at most 0.05 / 3 = 0.0167, and three they may be.
    least = [0.001, 0.01, 0.016, 0.04]

    assert can_be_found(least, rate=0.05) == (True, True, True, False)


def test_with_nothing_to_be_found_nothing_is_asked():
    assert can_be_found([0.5, 1.0], rate=0.05) == (False, False)
    assert can_be_found([], rate=0.05) == ()
