"""Void content of a piece cut from a part, by weighing it and what is left of it."""

from dataclasses import dataclass

from defectlog.laminate.inputs import ImpossibleFigureError, above_zero
from defectlog.units import figure

# Pure water at 23 °C in g/cm³, ASTM D792.
WATER_AT_23_C = 0.9975
# ASTM D2734: below it the result says more about the densities put in than about voids.
TELLING_VOIDS = 0.01


@dataclass(frozen=True, slots=True)
class VoidContent:
    """Fractions 0–1 by volume of the piece, which add to 1, and the densities behind them.

    ``voids`` comes out negative when the densities put in are off; ``is_telling`` is False
    below 1 %, where the densities put in matter more than any void.
    """

    voids: float
    fibre: float
    resin: float
    fibre_by_mass: float
    density_g_cm3: float
    void_free_density_g_cm3: float

    @property
    def is_telling(self) -> bool:
        return self.voids >= TELLING_VOIDS


def void_content_by_density(
    mass_in_air_g: float,
    mass_in_water_g: float,
    fibre_left_g: float,
    *,
    fibre_density_g_cm3: float,
    resin_density_g_cm3: float,
    water_density_g_cm3: float = WATER_AT_23_C,
) -> VoidContent:
    """Void content from the measured density and the one a void-free piece would have.

    Parameters
    ----------
    mass_in_air_g, mass_in_water_g : above 0
        The piece weighed dry and hanging in water. The second is no mass of resin.
    fibre_left_g : above 0
        What remains when the resin is burnt off or dissolved.
    fibre_density_g_cm3, resin_density_g_cm3 : above 0
        Of the fibre, and of the resin as cured.
    water_density_g_cm3 : above 0, optional
        0.9975 at 23 °C. Taking 1 instead moves the void content by about 0.2 points.

    Raises
    ------
    ImpossibleFigureError
        If a figure is not above 0, the piece does not weigh less in water than in air, or
        more fibre is left than there was laminate.

    Notes
    -----
    ASTM D2734, with the density by displacement of ASTM D792. Good laminates have about 1 %
    or less.
    """
    mass = above_zero(mass_in_air_g, "g", "The mass in air")
    in_water = above_zero(mass_in_water_g, "g", "The mass in water")
    fibre = above_zero(fibre_left_g, "g", "The fibre left over")
    of_fibre = above_zero(fibre_density_g_cm3, "g/cm³", "The fibre density")
    of_resin = above_zero(resin_density_g_cm3, "g/cm³", "The resin density")
    of_water = above_zero(water_density_g_cm3, "g/cm³", "The water density")
    if in_water >= mass:
        raise ImpossibleFigureError(
            f"The piece weighs {figure(in_water)} g in water and {figure(mass)} g in air",
            "weigh again; water carries part of it",
        )
    if fibre > mass:
        raise ImpossibleFigureError(
            f"{figure(fibre)} g of fibre were left of {figure(mass)} g of laminate",
            "weigh again, and check that the two belong to one piece",
        )
    volume = (mass - in_water) / of_water
    fibre_volume = fibre / of_fibre
    resin_volume = (mass - fibre) / of_resin
    return VoidContent(
        voids=1 - (fibre_volume + resin_volume) / volume,
        fibre=fibre_volume / volume,
        resin=resin_volume / volume,
        fibre_by_mass=fibre / mass,
        density_g_cm3=mass / volume,
        void_free_density_g_cm3=mass / (fibre_volume + resin_volume),
    )
