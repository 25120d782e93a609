import pytest

from defectlog.laminate import ImpossibleFigureError, fibre_volume_fraction


def test_fraction_follows_method_two_of_d3171():
    # 600 g/m² x 4 plies x 0.1 / (2.54 g/cm³ x 1.80 mm) = 52.493438 %, by hand.
    assert fibre_volume_fraction(600, 4, 1.80, 2.54) == pytest.approx(0.52493438, abs=1e-8)


def test_a_thin_ply_of_the_military_handbook_comes_close_to_its_resin_weight():
    # MIL-HDBK-17-2F, Vol. 2, 6.2.1: glass tape of 111 g/m², cured ply 0.0035 in, 28-33 % resin by
    # mass, which is 49.9 to 55.8 % fibre by volume at 2.49 and 1.22 g/cm³; to within 3 points.
    assert 0.469 < fibre_volume_fraction(111, 1, 0.0035 * 25.4, 2.49) < 0.588


def test_more_fibre_than_can_be_packed_is_refused():
    # The closest packing of round fibres is pi / (2 sqrt 3) = 0.9069: 1 ply of 1000 g/m² in
    # 1 mm of density 1.103 is 0.9066, of density 1.102 it is 0.9074.
    assert fibre_volume_fraction(1000, 1, 1.0, 1.103) < 0.9069
    with pytest.raises(ImpossibleFigureError, match="check the thickness"):
        fibre_volume_fraction(1000, 1, 1.0, 1.102)


@pytest.mark.parametrize("figures", [(0, 1, 1, 1), (1, 0, 1, 1), (1, 1, 0, 1), (1, 1, 1, -1)])
def test_figures_must_be_above_nothing(figures):
    with pytest.raises(ImpossibleFigureError, match="above 0"):
        fibre_volume_fraction(*figures)
