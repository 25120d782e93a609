import pytest

from defectlog.laminate import ImpossibleFigureError, void_content_by_density

# An exercise of mechanics courses (after A. K. Kaw, Mechanics of Composite Materials, ch. 3):
# 3.697 g in air, 1.636 g in water, 2.595 g of fibre left, specific gravities 2.5 and 1.2.
# By ASTM D2734: theoretical 1 / (0.70192 / 2.5 + 0.29808 / 1.2) = 1.88976,
# measured 3.697 / 2.061 = 1.79379.
FIGURES = {"fibre_density_g_cm3": 2.5, "resin_density_g_cm3": 1.2}


def test_void_content_follows_d2734():
    found = void_content_by_density(3.697, 1.636, 2.595, water_density_g_cm3=1.0, **FIGURES)

    assert found.fibre_by_mass == pytest.approx(0.70192048, abs=1e-7)
    assert found.void_free_density_g_cm3 == pytest.approx(1.88975975, abs=1e-7)
    assert found.density_g_cm3 == pytest.approx(1.79378942, abs=1e-7)
    assert found.voids == pytest.approx(0.0507844089, abs=1e-8)
    assert found.is_telling


def test_fibre_resin_and_voids_make_up_the_piece():
    found = void_content_by_density(3.697, 1.636, 2.595, water_density_g_cm3=1.0, **FIGURES)

    assert found.fibre == pytest.approx(0.50363901, abs=1e-7)
    assert found.resin == pytest.approx(0.44557658, abs=1e-7)
    assert found.fibre + found.resin + found.voids == pytest.approx(1)


def test_the_density_of_real_water_moves_the_result():
    # Water at 23 °C, 0.9975 g/cm³ (ASTM D792): 1.79378942 x 0.9975 against 1.88975975.
    found = void_content_by_density(3.697, 1.636, 2.595, **FIGURES)

    assert found.voids == pytest.approx(0.0531574478, abs=1e-8)


def test_below_one_per_cent_the_result_is_not_telling():
    # D2734 says so. A piece of exactly the void-free density: 2 cm³ of each at 2.5 and 1.2.
    found = void_content_by_density(7.4, 3.4, 5.0, water_density_g_cm3=1.0, **FIGURES)

    assert found.voids == pytest.approx(0)
    assert not found.is_telling


@pytest.mark.parametrize("masses", [(3.0, 3.0, 1.0), (3.0, 1.0, 3.1), (0, 1, 1)])
def test_masses_that_cannot_be_are_refused(masses):
    with pytest.raises(ImpossibleFigureError):
        void_content_by_density(*masses, **FIGURES)
