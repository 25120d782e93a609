"""How hard a peel ply pulls on the part, and how much of that tries to lift its top ply."""

import math
from dataclasses import dataclass

from defectlog.laminate.inputs import ImpossibleFigureError, above_zero
from defectlog.units import with_unit


@dataclass(frozen=True, slots=True)
class PeelLoad:
    """The steady pull on a strip, and its part at right angles to the part, away from it.

    Folded flat back the lift is 0, though the bend of the cloth still opens the front a little;
    a stiff strip opens it more.
    """

    pull_n: float
    lift_n: float
    pull_n_per_mm: float
    lift_n_per_mm: float


def peel_load(peel_energy_j_m2: float, width_mm: float, fold_back_deg: float) -> PeelLoad:
    """Pull and lift of a strip of peel ply.

    Parameters
    ----------
    peel_energy_j_m2 : above 0
        Energy to bare a square metre; some 100 to 600 for peel ply on cured resin (judgement).
    width_mm : above 0
        Of the strip.
    fold_back_deg : above 0, up to 180
        Between the strip pulled and the surface already bared: 180 is folded flat back over
        the cloth still bonded, 90 straight up.

    Raises
    ------
    ImpossibleFigureError
        If a figure is out of range; along the bared surface (0°) the formula has no answer.

    Notes
    -----
    Pull per width = energy / (1 − cos angle), lift = pull · sin angle: K. Kendall, Thin-film
    peeling – the elastic term, J. Phys. D 8, 1449–1452, 1975, for a strip that does not
    stretch. Below some 5° stretch takes over and the pull stays finite.
    """
    energy = above_zero(peel_energy_j_m2, "J/m²", "The peel energy")
    width_m = above_zero(width_mm, "mm", "The width") / 1000
    angle = _angle(fold_back_deg)
    pull = energy * width_m / (1 - math.cos(angle))
    # sin of 180° is not quite 0 in binary
    lift = 0.0 if fold_back_deg == 180 else pull * math.sin(angle)
    return PeelLoad(pull, lift, pull / width_mm, lift / width_mm)


def peel_energy(pull_n: float, width_mm: float, fold_back_deg: float) -> float:
    """Peel energy in J/m² from a pull measured on a strip; the inverse of ``peel_load``.

    Raises
    ------
    ImpossibleFigureError
        If a figure is out of range.
    """
    pull = above_zero(pull_n, "N", "The pull")
    width_m = above_zero(width_mm, "mm", "The width") / 1000
    return pull / width_m * (1 - math.cos(_angle(fold_back_deg)))


def _angle(fold_back_deg: float) -> float:
    if not 0 < fold_back_deg <= 180:
        raise ImpossibleFigureError(
            f"The strip is folded back {with_unit(fold_back_deg, '°')}",
            "give the angle from the bared surface, above 0 and up to 180°",
        )
    return math.radians(fold_back_deg)
