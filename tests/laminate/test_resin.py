import pytest

from defectlog.laminate import ImpossibleFigureError, expected_next, overage, resin_budget

GLASS = {
    "fibre_volume_fraction": 0.5,
    "fibre_density_g_cm3": 2.54,
    "resin_density_g_cm3": 1.27,
}


def test_laminate_resin_fills_what_the_fibre_leaves():
    # Equal volumes at half the density: 800 g/m² on 50 dm² are 400 g of fibre, 200 g of resin.
    budget = resin_budget(800, 50, **GLASS)

    assert budget.fibre_g == pytest.approx(400)
    assert budget.laminate_resin_g == pytest.approx(200)
    assert budget.laminate_g == pytest.approx(600)


def test_fibre_by_mass_agrees_with_the_textbook():
    # A. K. Kaw, Mechanics of Composite Materials, 2nd ed., Example 3.1: 70 % fibre by volume,
    # 2500 and 1200 kg/m³, is 0.8294 fibre by mass.
    budget = resin_budget(
        1000, 100, fibre_volume_fraction=0.7, fibre_density_g_cm3=2.5, resin_density_g_cm3=1.2
    )

    assert budget.fibre_g / budget.laminate_g == pytest.approx(0.8294, abs=5e-5)


def test_voids_take_the_place_of_resin():
    # A tenth of the volume empty leaves 0.4 of 0.5: 160 g.
    assert resin_budget(800, 50, void_fraction=0.1, **GLASS).laminate_resin_g == pytest.approx(160)


def test_until_three_builds_have_told_the_reserve_is_mixed_on_top():
    budget = resin_budget(800, 50, extra_g=50, earlier_overages=[0.05, 0.06], **GLASS)

    assert budget.planned_g == pytest.approx(250)
    assert budget.overage is None
    assert budget.mix_g == pytest.approx(275)


def test_then_the_upper_end_of_what_earlier_builds_needed():
    # Mean 0.05, s 0.02, n 3: t(0.975, 2) = 4.303 (NIST/SEMATECH e-Handbook, table 1.3.6.7.2),
    # so the next one lies below 0.05 + 4.303 x 0.02 x sqrt(4/3).
    budget = resin_budget(800, 50, earlier_overages=[0.03, 0.05, 0.07], **GLASS)

    upper = 0.05 + 4.303 * 0.02 * (4 / 3) ** 0.5
    assert budget.overage.mean == pytest.approx(0.05)
    assert budget.overage.high == pytest.approx(upper, abs=1e-4)
    assert budget.mix_g == pytest.approx(200 * (1 + upper), abs=0.02)


def test_overage_counts_what_the_part_took():
    # 190 g mixed, 41 g left, 142 g planned: 149 / 142.
    assert overage(142, 190, 41) == pytest.approx(149 / 142 - 1)


@pytest.mark.parametrize("figures", [(0, 1, 0), (1, 0, 0), (1, 2, 3), (1, 2, -1)])
def test_pots_that_cannot_be_are_refused(figures):
    with pytest.raises(ImpossibleFigureError):
        overage(*figures)


@pytest.mark.parametrize(
    "change",
    [
        {"fibre_volume_fraction": 0.95},
        {"void_fraction": 0.5},
        {"void_fraction": -0.1},
        {"extra_g": -1},
    ],
)
def test_budgets_that_leave_no_resin_are_refused(change):
    with pytest.raises(ImpossibleFigureError):
        resin_budget(800, 50, **(GLASS | change))


def test_a_new_mass_is_held_against_earlier_ones():
    # Mean 100 g, s 2 g, n 3, t(0.975, 2) = 4.303: 100 ± 9.94.
    expected = expected_next([98.0, 100.0, 102.0])

    assert (expected.low, expected.high) == pytest.approx((90.06, 109.94), abs=0.005)
    assert expected.holds(109) and not expected.holds(111)
    assert expected_next([98.0, 100.0]) is None
