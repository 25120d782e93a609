import pytest

from defectlog.laminate import ImpossibleFigureError, leak_rate


def test_rise_is_pressure_over_time():
    # 11 to 14 mbar in 20 minutes, by hand.
    assert leak_rate(11, 14, 20).rise_mbar_min == pytest.approx(0.15)
    assert leak_rate(11, 14, 20).gas_cm3_min is None


def test_gas_let_in_follows_from_the_free_volume():
    # 5 mbar in 10 min into 10 l: 10 000 cm³ x 0.5 mbar/min / 1013.25 mbar = 4.93 cm³/min.
    found = leak_rate(20, 25, 10, free_volume_l=10, area_dm2=50)

    assert found.gas_cm3_min == pytest.approx(4.9346, abs=5e-5)
    assert found.gas_cm3_min_dm2 == pytest.approx(4.9346 / 50, abs=5e-6)


def test_a_sealed_bag_that_warms_has_no_leak():
    # 20 mbar at 20 °C become 20 x 303.15 / 293.15 mbar at 30 °C (Gay-Lussac).
    warmed = 20 * 303.15 / 293.15

    assert leak_rate(20, warmed, 10, start_c=20, end_c=30).rise_mbar_min == pytest.approx(0)


def test_a_falling_pressure_shows_as_it_is():
    assert leak_rate(20, 19, 10).rise_mbar_min == pytest.approx(-0.1)


@pytest.mark.parametrize("figures", [(-1, 5, 10), (5, -1, 10), (5, 6, 0)])
def test_figures_out_of_range_are_refused(figures):
    with pytest.raises(ImpossibleFigureError):
        leak_rate(*figures)


def test_a_temperature_below_absolute_zero_is_refused():
    with pytest.raises(ImpossibleFigureError):
        leak_rate(5, 6, 10, start_c=-300, end_c=20)
