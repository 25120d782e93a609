import pytest

from defectlog.charts import ChartInputError, proportions

# D. C. Montgomery, Introduction to Statistical Quality Control, juice cans, also NIST/SEMATECH
# e-Handbook 6.3.3.2 and file MONITOR-6_3_3_2.DAT: 30 samples of 50. The limits to seven digits
# are those printed in the documentation of the open R library qcc.
CANS = [
    *[12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22],
    *[8, 10, 5, 13, 11, 20, 18, 24, 15, 9, 12, 7, 13, 9, 6],
]

# M. A. Mohammed et al., BMJ Quality & Safety 22:362-368, 2013, as the open R library qicharts2
# carries it: 20 weeks, so many of so many.
WEEKS = [
    *[(266501, 280443), (264225, 276823), (276532, 291681), (281461, 296155)],
    *[(269071, 282343), (261215, 275888), (270409, 283867), (279778, 295251)],
    *[(270483, 284468), (270320, 282529), (267923, 279618), (271478, 283932)],
    *[(255353, 266629), (256820, 268091), (261835, 276803), (259144, 271578)],
    *[(255910, 266005), (260863, 273520), (264465, 278574), (260989, 273772)],
]


def test_limits_are_those_printed_for_the_cans():
    chart = proportions(CANS, 50)

    assert chart.centre == pytest.approx(0.2313333, abs=5e-8)
    assert chart.sigma == pytest.approx(0.05963526, abs=5e-9)
    assert chart.upper == pytest.approx(0.4102391, abs=5e-8)
    assert chart.lower == pytest.approx(0.05242755, abs=5e-9)
    assert [signal.index for signal in chart.signals] == [14, 22]


def test_samples_left_out_of_the_limits_are_still_plotted_and_judged():
    # The second stage printed there, without samples 15 and 23; sample 21 (20 of 50) is out then.
    kept = [index for index in range(30) if index not in (14, 22)]

    chart = proportions(CANS, 50, baseline=kept)

    assert chart.centre == pytest.approx(0.215)
    assert chart.lower == pytest.approx(0.04070284, abs=5e-9)
    assert chart.upper == pytest.approx(0.3892972, abs=5e-8)
    assert len(chart.values) == 30
    assert [signal.index for signal in chart.signals] == [14, 20, 22]


def test_chance_alone_would_put_sixteen_of_the_twenty_weeks_outside():
    counts, sizes = zip(*WEEKS, strict=True)

    chart = proportions(counts, sizes)

    inside = {4, 6, 17, 19}  # weeks 5, 7, 18 and 20, by arithmetic from the printed data
    assert {signal.index for signal in chart.signals} == set(range(20)) - inside
    assert chart.limits_at(0) == pytest.approx((0.95169956, 0.95409986), abs=1e-7)


def test_limits_for_excess_spread_hold_all_twenty_weeks():
    # Laney, Quality Engineering 14(4), 2002, steps as in qicharts2: sigma_z 10.6404 from the
    # mean moving range over 1.128, limits of week 1 by the formula.
    counts, sizes = zip(*WEEKS, strict=True)

    chart = proportions(counts, sizes, overdispersed=True)

    assert chart.centre == pytest.approx(0.952899711344, abs=1e-10)
    assert chart.limits_at(0) == pytest.approx((0.94012964, 0.96566978), abs=1e-7)
    assert chart.upper[16] == pytest.approx(0.96601176, abs=1e-7)
    assert chart.signals == ()


def test_limits_stay_within_nothing_and_all():
    # A mean of a quarter with 2 a sample: 0.25 ± 3 * sqrt(0.1875 / 2) is -0.67 and 1.17.
    chart = proportions([0, 1, 0, 1], 2)

    assert (chart.lower, chart.upper) == (0, 1)
    assert "rough" in chart.notes[0]


def test_more_than_were_looked_at_is_refused():
    with pytest.raises(ChartInputError, match="3 of 2"):
        proportions([3], [2])
