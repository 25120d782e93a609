import pytest

from defectlog.charts import ChartInputError, run_order, trial_size


def test_sizes_are_those_of_the_reference_documentation():
    # R, power.t.test(power = .90, delta = 1): n = 22.02110; the R library pwr for d = 0.5 and
    # power 0.80: 63.76561, and Cohen, Statistical Power Analysis, 2nd ed. 1988: 64.
    one = trial_size(1, 1, power=0.9)
    half = trial_size(0.5, 1)

    assert (one.exact, one.per_setting) == (pytest.approx(22.02110, abs=1e-4), 23)
    assert (half.exact, half.per_setting) == (pytest.approx(63.76561, abs=1e-4), 64)


def test_only_the_ratio_of_difference_and_spread_matters():
    assert trial_size(0.2, 0.4).per_setting == trial_size(1, 2).per_setting == 64


def test_even_a_glaring_difference_needs_two_panels_of_each():
    assert trial_size(1000, 1).per_setting == 2


@pytest.mark.parametrize("numbers", [(0, 1), (1, 0), (1e-9, 1)])
def test_what_no_trial_can_show_is_refused(numbers):
    with pytest.raises(ChartInputError):
        trial_size(*numbers)


def test_every_round_holds_every_setting_once():
    order = run_order(["none", "light", "heavy"], 4, random_state=7)

    assert len(order) == 12
    for start in range(0, 12, 3):
        assert sorted(order[start : start + 3]) == ["heavy", "light", "none"]


def test_the_same_start_gives_the_same_order_again():
    orders = {run_order(["a", "b", "c"], 5, random_state=start) for start in range(6)}

    assert run_order(["a", "b", "c"], 5, random_state=3) in orders
    assert len(orders) > 1


@pytest.mark.parametrize(("settings", "repeats"), [(["a"], 2), (["a", "a"], 2), (["a", "b"], 0)])
def test_nothing_to_put_in_order_is_refused(settings, repeats):
    with pytest.raises(ChartInputError):
        run_order(settings, repeats, random_state=1)
