"""The classes people speak in, derived from measured build facts.

A tight bag, a cloth folded back, air too near its dew point: nobody types these, they follow from
the numbers. Every bound here is a shop's rule of thumb (judgement, not a standard) unless a source
stands beside it; product data sheets outrank them.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

Known = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Derived:
    """One class of a build: where it comes from and the values it can take, with their words."""

    name: str
    label: str
    values: Mapping[str, str]
    needs: tuple[str, ...]
    rule: Callable[[Known], str | None]


# A gauge flickers; pressure that falls faster than this was no drop test of a closed bag.
LEAST_RATE_MBAR_MIN = -0.5


def leak_rate_mbar_min(known: Known) -> float | None:
    """Pressure rise of the closed bag in mbar per minute; ``None`` until the test is complete."""
    names = ("drop_start_mbar", "drop_end_mbar", "drop_minutes")
    if any(known.get(name) is None for name in names) or not known["drop_minutes"]:
        return None
    return (known["drop_end_mbar"] - known["drop_start_mbar"]) / known["drop_minutes"]


def dew_point_c(air_c: float, humidity_pct: float) -> float:
    """Dew point in °C by the Magnus formula, constants 17.62 and 243.12 °C over water.

    Source: WMO Guide to Meteorological Instruments and Methods of Observation (WMO-No. 8), annex
    4.B; good to a few tenths of a degree between -45 and 60 °C.
    """
    term = math.log(humidity_pct / 100) + 17.62 * air_c / (243.12 + air_c)
    return 243.12 * term / (17.62 - term)


def dew_margin_c(known: Known) -> float | None:
    """How far the mould (or else the air) is above the dew point, in °C."""
    air, humidity = known.get("ambient_c"), known.get("humidity_pct")
    if air is None or humidity is None:
        return None
    surface = known.get("mould_temp_c")
    return (air if surface is None else surface) - dew_point_c(air, humidity)


def _drop(known: Known) -> str | None:
    rate = leak_rate_mbar_min(known)
    if rate is None or rate < LEAST_RATE_MBAR_MIN:
        return None
    # A bagged wet lay-up forgives more: its gas need not cross the part while the resin is liquid.
    ease = 3 if known.get("process") == "bagged-wet-layup" else 1
    for bound, word in ((0.5, "tight"), (2, "ok"), (7, "marginal")):
        if rate <= bound * ease:
            return word
    return "fail"


def _steps(name: str, *bounds: tuple[float, str], above: str) -> Callable[[Known], str | None]:
    """A class by rising upper bounds (each included) of one number."""

    def rule(known: Known) -> str | None:
        value = known.get(name)
        if value is None:
            return None
        return next((word for bound, word in bounds if value <= bound), above)

    return rule


def _dew(known: Known) -> str | None:
    # The 3 °C margin is that of coating practice (ISO 8502-4 and what quotes it).
    margin = dew_margin_c(known)
    return None if margin is None else ("ok" if margin >= 3 else "close")


def _fold(known: Known) -> str | None:
    angle = known.get("peel_fold_back_deg")
    if angle is None:
        return None
    return "fold" if angle >= 150 else "mid" if angle >= 60 else "low"


def _part_temp(known: Known) -> str | None:
    value = known.get("part_temp_c")
    if value is None:
        return None
    return "cold" if value < 15 else "warm" if value <= 35 else "hot"


def _core_format(known: Known) -> str | None:
    if known.get("core") == "none":
        return "none"
    if known.get("core_perforated"):
        return "perforated"
    if known.get("core_grooved"):
        return "grooved"
    if known.get("core") and known.get("core_perforated") is False:
        return "plain"
    return None


def _cloth(known: Known) -> str | None:
    plies = known.get("plies")
    if not plies:
        return None
    heaviest = max(ply["areal_weight_g_m2"] for ply in plies)
    return "light" if heaviest < 200 else "middling" if heaviest <= 600 else "heavy"


def _radius(known: Known) -> str | None:
    radius = known.get("inside_radius_mm")
    if radius is None:
        return None
    thickness = known.get("laminate_thickness_mm") or 0
    return "tight" if radius < max(5, 3 * thickness) else "easy"


def _pot(known: Known) -> str | None:
    fill, pot = known.get("fill_time_min"), known.get("pot_life_min")
    if fill is None or pot is None:
        return None
    return "late" if fill >= pot else "in time"


def _cure_temp(known: Known) -> str | None:
    value = known.get("cure_c")
    if value is None:
        return None
    return "low" if value < 18 else "usual" if value <= 80 else "high"


def _cure_time(known: Known) -> str | None:
    hours = known.get("demould_after_h")
    hours = known.get("cure_h") if hours is None else hours
    if hours is None:
        return None
    warm = (known.get("cure_c") or 0) >= 40
    return "short" if hours < (6 if warm else 18) else "usual"


def _post(known: Known) -> str | None:
    hours = known.get("postcure_h")
    return None if hours is None else ("yes" if hours > 0 else "no")


def _mix(known: Known) -> str | None:
    error = known.get("mix_ratio_error_pct")
    if error is not None and abs(error) > 5:
        return "off"
    if known.get("mix_logged") is None:
        return None
    return "logged" if known["mix_logged"] else "unsure"


_ALL = (
    Derived(
        "drop_class",
        "Drop test",
        {"tight": "tight", "ok": "holds", "marginal": "marginal", "fail": "fails"},
        ("drop_start_mbar", "drop_end_mbar", "drop_minutes", "process"),
        _drop,
    ),
    Derived(
        "vacuum_class",
        "Vacuum",
        {"deep": "deep", "good": "good", "middling": "middling", "poor": "poor"},
        ("vacuum_abs_mbar",),
        _steps("vacuum_abs_mbar", (20, "deep"), (60, "good"), (150, "middling"), above="poor"),
    ),
    Derived(
        "humidity_class",
        "Air",
        {"dry": "dry", "middling": "middling", "damp": "damp"},
        ("humidity_pct",),
        _steps("humidity_pct", (50, "dry"), (70, "middling"), above="damp"),
    ),
    Derived(
        "dew_class",
        "Margin above the dew point",
        {"ok": "enough", "close": "close"},
        ("ambient_c", "humidity_pct", "mould_temp_c"),
        _dew,
    ),
    Derived(
        "fold_class",
        "Peel ply was pulled",
        {
            "fold": "folded back over the cloth",
            "mid": "straight up",
            "low": "back over the bared side",
        },
        ("peel_fold_back_deg",),
        _fold,
    ),
    Derived(
        "part_temp_class",
        "Part at peel",
        {"cold": "cold", "warm": "warm", "hot": "hot"},
        ("part_temp_c",),
        _part_temp,
    ),
    Derived(
        "core_format",
        "Core",
        {"none": "none", "plain": "plain", "perforated": "perforated", "grooved": "grooved"},
        ("core", "core_perforated", "core_grooved"),
        _core_format,
    ),
    Derived(
        "cloth_class",
        "Heaviest cloth",
        {"light": "light", "middling": "middling", "heavy": "heavy"},
        ("plies",),
        _cloth,
    ),
    Derived(
        "thickness_class",
        "Laminate",
        {"thin": "thin", "middling": "middling", "thick": "thick"},
        ("laminate_thickness_mm",),
        _steps("laminate_thickness_mm", (2, "thin"), (8, "middling"), above="thick"),
    ),
    Derived(
        "radius_class",
        "Inside radius",
        {"tight": "tight", "easy": "easy"},
        ("inside_radius_mm", "laminate_thickness_mm"),
        _radius,
    ),
    Derived(
        "pot_class",
        "Against pot life",
        {"in time": "in time", "late": "late"},
        ("fill_time_min", "pot_life_min"),
        _pot,
    ),
    Derived(
        "cure_temp_class",
        "Cure temperature",
        {"low": "low", "usual": "usual", "high": "high"},
        ("cure_c",),
        _cure_temp,
    ),
    Derived(
        "cure_time_class",
        "Time before demould",
        {"short": "short", "usual": "usual"},
        ("demould_after_h", "cure_h", "cure_c"),
        _cure_time,
    ),
    Derived("postcure_class", "Post-cured", {"yes": "yes", "no": "no"}, ("postcure_h",), _post),
    Derived(
        "resin_age_class",
        "Resin",
        {"fresh": "fresh", "old": "long opened"},
        ("resin_opened_days",),
        _steps("resin_opened_days", (365, "fresh"), above="old"),
    ),
    Derived(
        "mix_class",
        "Mix",
        {"logged": "weighed and logged", "unsure": "not logged", "off": "known to be off"},
        ("mix_logged", "mix_ratio_error_pct"),
        _mix,
    ),
)

DERIVED: Mapping[str, Derived] = MappingProxyType({row.name: row for row in _ALL})


def derive(known: Known) -> dict[str, Any]:
    """Add every class that follows from the known facts; what cannot be told is left out."""
    classes = {name: row.rule(known) for name, row in DERIVED.items()}
    told = {name: value for name, value in classes.items() if value is not None}
    return {name: value for name, value in known.items() if value is not None} | told
