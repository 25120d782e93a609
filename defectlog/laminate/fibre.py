"""How much of a laminate is fibre, and the thickness and resin that go with it."""

import math

from defectlog.laminate.inputs import ImpossibleFigureError, above_zero
from defectlog.units import percent

# Round fibres side by side in the closest packing there is fill no more: π / (2 √3).
CLOSEST_PACKING = math.pi / (2 * math.sqrt(3))


def fibre_volume_fraction(
    areal_weight_g_m2: float, plies: int, thickness_mm: float, fibre_density_g_cm3: float
) -> float:
    """Fibre volume fraction, 0–1, from the cloth that went in and the thickness that came out.

    Parameters
    ----------
    areal_weight_g_m2 : above 0
        Of one ply, fibre only.
    plies : from 1
        How many of them.
    thickness_mm : above 0
        Of the cured laminate without core, peel ply or gel coat.
    fibre_density_g_cm3 : above 0
        From the data sheet; E-glass is near 2.54, carbon near 1.8.

    Raises
    ------
    ImpossibleFigureError
        If a figure is not above 0, or more fibre follows than fits at the closest packing
        of round fibres, 0.907.

    Notes
    -----
    ASTM D3171, Test Method II. It takes the thickness as it is, voids included, and so says
    nothing about void content.
    """
    weight = above_zero(areal_weight_g_m2, "g/m²", "The areal weight")
    number = above_zero(plies, "", "The number of plies")
    thickness = above_zero(thickness_mm, "mm", "The thickness")
    density = above_zero(fibre_density_g_cm3, "g/cm³", "The fibre density")
    fraction = weight * number / (1000 * density * thickness)
    if fraction > CLOSEST_PACKING:
        raise ImpossibleFigureError(
            f"These figures give {percent(fraction, 3)} fibre by volume, more than can be packed",
            "check the thickness, the number of plies and the areal weight",
        )
    return fraction
