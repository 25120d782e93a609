import pytest

from defectlog.charts import ChartInputError, TooFewValuesError, ewma

# NIST/SEMATECH e-Handbook, 6.3.2.4 EWMA Control Charts: data, weight 0.3, start and target 50,
# s = 2.0539, and the averages printed to two places.
DATA = [
    *[52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5],
    *[49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1],
]
PRINTED = [
    *[50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33],
    *[50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99],
]


def nist(**more):
    return ewma(DATA, target=50, sigma=2.0539, weight=0.3, width=3, **more)


def test_averages_and_limits_are_those_nist_prints():
    chart = nist()

    assert chart.values == pytest.approx(PRINTED, abs=0.005)
    assert chart.upper == pytest.approx(52.5884, abs=1e-4)
    assert chart.lower == pytest.approx(47.4115, abs=1e-4)
    assert chart.centre == 50
    assert chart.signals == ()


def test_limits_from_the_first_point_widen_towards_the_long_run():
    # The formula under "Definition of EWMA" at i = 1: 3 * 0.3 * 2.0539 = 1.84851; the square
    # root of 1 + 0.7^2 more at i = 2.
    chart = nist(from_first=True)

    assert chart.upper[0] == pytest.approx(50 + 1.84851, abs=1e-5)
    assert chart.upper[1] == pytest.approx(50 + 1.84851 * 1.49**0.5, abs=1e-5)
    assert chart.upper[-1] == pytest.approx(nist().upper, abs=1e-5)
    assert chart.lower[0] == pytest.approx(50 - 1.84851, abs=1e-5)


def test_a_missing_value_leaves_the_average_where_it_was():
    # 0.5 * 4 + 0.5 * 0 = 2, then nothing, then 0.5 * 4 + 0.5 * 2 = 3.
    assert ewma([4, None, 4], target=0, sigma=10, weight=0.5).values == (2, None, 3)


def test_weight_one_is_the_chart_of_the_values_themselves():
    chart = ewma([1.0, 5.0], target=0, sigma=1, weight=1)

    assert chart.values == (1, 5)
    assert chart.upper == pytest.approx(3)
    assert [signal.index for signal in chart.signals] == [1]


@pytest.mark.parametrize(
    "options", [{"sigma": 0}, {"sigma": 1, "weight": 0}, {"sigma": 1, "weight": 1.1}]
)
def test_out_of_range_settings_are_refused(options):
    with pytest.raises(ChartInputError):
        ewma([1, 2], target=0, **options)


def test_no_value_makes_no_average():
    with pytest.raises(TooFewValuesError):
        ewma([None], target=0, sigma=1)


def test_a_target_that_is_itself_a_mean_widens_the_limits() -> None:
    # By hand: weight 0.2 strays by √(0.2/1.8) = 0.3333 sigma; a mean of 20 is off by √(1/20) =
    # 0.2236. √(0.1111 + 0.05) = 0.4014, times 3 sigma of 1.
    chart = ewma([0.0, 0.0], target=0, sigma=1, target_of=20)
    first = ewma([0.0, 0.0], target=0, sigma=1, target_of=20, from_first=True)

    assert chart.upper == pytest.approx(3 * 0.40139, abs=3e-5)
    # The first average has only strayed by 0.2: √(0.04 + 0.05) = 0.3.
    assert first.limits_at(0)[1] == pytest.approx(0.9)


def test_a_target_of_no_values_is_refused() -> None:
    with pytest.raises(ChartInputError, match="how many it rests on"):
        ewma([1.0], target=0, sigma=1, target_of=0)
