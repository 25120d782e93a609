import pytest

from defectlog.charts import ChartInputError, pareto


def test_kinds_come_largest_first_and_equal_ones_by_key():
    bars = pareto({"void": 5, "dry-spot": 3, "blister": 3, "crazing": 0})

    assert [bar.key for bar in bars] == ["void", "blister", "dry-spot"]
    assert [bar.count for bar in bars] == [5, 3, 3]


def test_shares_run_up_to_one():
    bars = pareto({"void": 5, "dry-spot": 3, "blister": 2})

    assert [bar.share for bar in bars] == [0.5, 0.3, 0.2]
    assert [bar.running for bar in bars] == [0.5, 0.8, 1.0]


def test_share_intervals_are_wilsons():
    # R. G. Newcombe, Statistics in Medicine 17:857-872, 1998, Table I: 81 of 263.
    bar = pareto({"void": 182, "dry-spot": 81})[1]

    assert (bar.low, bar.high) == pytest.approx((0.2553, 0.3662), abs=5e-5)


def test_nothing_counted_makes_no_bars():
    assert pareto({}) == ()
    assert pareto({"void": 0}) == ()


def test_half_a_finding_is_refused():
    with pytest.raises(ChartInputError):
        pareto({"void": 1.5})
