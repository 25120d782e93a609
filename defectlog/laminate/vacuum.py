"""What a drop test says about the bag."""

from dataclasses import dataclass

from defectlog.laminate.inputs import ImpossibleFigureError, above_zero
from defectlog.units import with_unit

STANDARD_MBAR = 1013.25
_ZERO_C_IN_K = 273.15


@dataclass(frozen=True, slots=True)
class LeakRate:
    """How fast the closed bag filled.

    ``rise_mbar_min`` is at the temperature of the start. ``gas_cm3_min`` is the gas that came
    in, at 1013.25 mbar, and ``gas_cm3_min_dm2`` the same for each dm² of laminate; None where
    the free volume or the area is not known. A negative rise means that the gauge reads against
    the weather, or that the bag cooled.
    """

    rise_mbar_min: float
    gas_cm3_min: float | None
    gas_cm3_min_dm2: float | None


def leak_rate(
    start_mbar: float,
    end_mbar: float,
    minutes: float,
    *,
    start_c: float | None = None,
    end_c: float | None = None,
    free_volume_l: float | None = None,
    area_dm2: float | None = None,
) -> LeakRate:
    """Leak rate of a drop test, pump shut off.

    Parameters
    ----------
    start_mbar, end_mbar : from 0
        Absolute pressure in the bag.
    minutes : above 0
    start_c, end_c : °C, optional
        Temperature of the bag; with both, the end pressure is brought back to the start's.
    free_volume_l : above 0, optional
        Gas volume of breather, media, tubes and catch pot. Without it two bags cannot be
        compared: the same leak raises a small bag faster.
    area_dm2 : above 0, optional
        Laminate under the bag.

    Raises
    ------
    ImpossibleFigureError
        If a figure is out of range.

    Notes
    -----
    Gas let in is volume · pressure rise / time at constant temperature (Boyle), and a sealed
    gas follows the absolute temperature (Gay-Lussac). The first minutes also hold what
    the cloth gives off: a leak rises in a straight line, outgassing flattens.
    """
    for value, which in ((start_mbar, "start"), (end_mbar, "end")):
        if not 0 <= value < float("inf"):
            raise ImpossibleFigureError(
                f"The pressure at the {which} is {with_unit(value, 'mbar')}",
                "read it as absolute pressure, 0 or above",
            )
    duration = above_zero(minutes, "min", "The time of the drop test")
    end = end_mbar
    if start_c is not None and end_c is not None:
        start_k = above_zero(start_c + _ZERO_C_IN_K, "K", "The temperature at the start")
        end_k = above_zero(end_c + _ZERO_C_IN_K, "K", "The temperature at the end")
        end = end_mbar * start_k / end_k
    rise = (end - start_mbar) / duration
    if free_volume_l is None:
        return LeakRate(rise, None, None)
    volume_cm3 = 1000 * above_zero(free_volume_l, "l", "The free volume")
    gas = rise * volume_cm3 / STANDARD_MBAR
    per_area = None if area_dm2 is None else gas / above_zero(area_dm2, "dm²", "The area")
    return LeakRate(rise, gas, per_area)
