"""How much resin to mix: what the laminate holds, and what the shop has needed on top."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from defectlog.laminate.earlier import Expected, expected_next
from defectlog.laminate.fibre import CLOSEST_PACKING
from defectlog.laminate.inputs import ImpossibleFigureError, above_zero
from defectlog.units import figure, percent


@dataclass(frozen=True, slots=True)
class ResinBudget:
    """Masses in g of one build.

    ``planned_g`` is what laminate, core and consumables hold. ``overage`` is what earlier
    builds needed on top, as a fraction of the plan, with its prediction interval; None until
    three builds have told. ``mix_g`` covers the upper end of that, or the plan and the reserve.
    """

    fibre_g: float
    laminate_resin_g: float
    planned_g: float
    overage: Expected | None
    mix_g: float

    @property
    def laminate_g(self) -> float:
        """Expected mass of the laminate without core and consumables."""
        return self.fibre_g + self.laminate_resin_g


def resin_budget(
    areal_weight_g_m2: float,
    area_dm2: float,
    *,
    fibre_volume_fraction: float,
    fibre_density_g_cm3: float,
    resin_density_g_cm3: float,
    void_fraction: float = 0.0,
    extra_g: float = 0.0,
    earlier_overages: Iterable[float] = (),
    reserve: float = 0.1,
) -> ResinBudget:
    """Plan the resin of one build.

    Parameters
    ----------
    areal_weight_g_m2 : above 0
        Of all plies together, fibre only.
    area_dm2 : above 0
    fibre_volume_fraction : 0–1
        Expected in the cured laminate.
    fibre_density_g_cm3, resin_density_g_cm3 : above 0
    void_fraction : 0–1, optional
        Of the laminate volume.
    extra_g : from 0, optional
        Held by core cells and grooves, peel ply, media, lines and catch pot.
    earlier_overages : fractions, optional
        What ``overage`` gave for earlier builds of the part.
    reserve : from 0, optional
        Share of the plan to mix on top while fewer than three builds have told; 0.1 is
        judgement.

    Raises
    ------
    ImpossibleFigureError
        If a figure is out of range.

    Notes
    -----
    Resin fills what fibre and voids leave: fibre mass · (resin density / fibre density) ·
    (1 − fibre − voids) / fibre, by volume fractions (rule of mixtures).
    """
    weight = above_zero(areal_weight_g_m2, "g/m²", "The areal weight")
    area_m2 = above_zero(area_dm2, "dm²", "The area") / 100
    of_fibre = above_zero(fibre_density_g_cm3, "g/cm³", "The fibre density")
    of_resin = above_zero(resin_density_g_cm3, "g/cm³", "The resin density")
    fibre_share = above_zero(fibre_volume_fraction, "", "The fibre volume fraction")
    if fibre_share > CLOSEST_PACKING or not 0 <= void_fraction < 1 - fibre_share:
        raise ImpossibleFigureError(
            f"{percent(fibre_share)} fibre and {percent(void_fraction)} voids leave no resin",
            "give volume fractions that leave room for resin",
        )
    if not (extra_g >= 0 and reserve >= 0):
        raise ImpossibleFigureError("Less than no resin was set aside", "give 0 or more")
    fibre_g = weight * area_m2
    resin_g = fibre_g * of_resin / of_fibre * (1 - fibre_share - void_fraction) / fibre_share
    planned_g = resin_g + extra_g
    learnt = expected_next(earlier_overages)
    on_top = reserve if learnt is None else max(0.0, learnt.high)
    return ResinBudget(fibre_g, resin_g, planned_g, learnt, planned_g * (1 + on_top))


def overage(planned_g: float, mixed_g: float, left_g: float) -> float:
    """What a build needed on top of its plan, as a fraction: 0.05 is five per cent more.

    Parameters
    ----------
    planned_g, mixed_g : above 0
    left_g : from 0 up to mixed_g
        Left in the pots.

    Raises
    ------
    ImpossibleFigureError
        If a figure is out of range.
    """
    planned = above_zero(planned_g, "g", "The resin planned")
    mixed = above_zero(mixed_g, "g", "The resin mixed")
    if not (math.isfinite(left_g) and 0 <= left_g <= mixed):
        raise ImpossibleFigureError(
            f"{figure(left_g)} g were left of {figure(mixed)} g mixed",
            "weigh the pots again and take their own mass off",
        )
    return (mixed - left_g) / planned - 1
