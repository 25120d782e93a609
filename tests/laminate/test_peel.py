import math

import pytest

from defectlog.laminate import ImpossibleFigureError, peel_energy, peel_load

# K. Kendall, J. Phys. D 8:1449-1452, 1975, strip that does not stretch:
# energy = pull / width x (1 - cos angle).


def test_pull_for_a_known_energy():
    # 100 J/m² on 25 mm: 2.5 N straight up, half of it folded flat back.
    assert peel_load(100, 25, 90).pull_n == pytest.approx(2.5, abs=1e-9)
    assert peel_load(100, 25, 180).pull_n == pytest.approx(1.25, abs=1e-9)


def test_energy_from_a_known_pull():
    # 10 N on 25 mm: 400 J/m² straight up, twice that folded flat back.
    assert peel_energy(10, 25, 90) == pytest.approx(400, abs=1e-9)
    assert peel_energy(10, 25, 180) == pytest.approx(800, abs=1e-9)


def test_lift_is_all_of_the_pull_straight_up_and_none_of_it_folded_back():
    assert peel_load(100, 25, 90).lift_n == pytest.approx(2.5)
    assert peel_load(100, 25, 180).lift_n == 0


@pytest.mark.parametrize("angle", [30, 60, 120, 150])
def test_lift_per_width_is_energy_times_the_cotangent_of_half_the_angle(angle):
    # R sin a / (1 - cos a) = R cot(a / 2), half-angle identity.
    expected = 0.3 / math.tan(math.radians(angle / 2))

    assert peel_load(300, 25, angle).lift_n_per_mm == pytest.approx(expected)


@pytest.mark.parametrize("angle", [0, -10, 181])
def test_angles_without_an_answer_are_refused(angle):
    with pytest.raises(ImpossibleFigureError, match="bared surface"):
        peel_load(100, 25, angle)
    with pytest.raises(ImpossibleFigureError):
        peel_energy(10, 25, angle)
