"""The build facts: what may be known of a build, in which unit and range, and at which stage.

Forms, the table export, the ranking of causes, the trends and the trials all read this one table.
Where a shop can measure, the fact is the measured number; the classes people speak in (a bag that
is tight, a cloth that was folded back) are derived from it by ``derived.py``.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import Enum
from types import MappingProxyType
from typing import Any

from defectlog.errors import FieldError
from defectlog.units import figure, read_number, with_unit


class Stage(Enum):
    """When a fact becomes known; the order is that of the day's work."""

    LAYUP = "lay-up"
    BAG = "bag and drop test"
    RESIN = "resin"
    CURE = "cure"
    DEMOULD = "peel and demould"
    WEIGH = "weigh"

    @property
    def key(self) -> str:
        return self.name.lower()


@dataclass(frozen=True, slots=True)
class Fact:
    """One named, typed, unit-carrying condition of a build.

    ``kind`` is ``number``, ``choice``, ``yes-no``, ``text`` or ``plies``. ``choices`` gives the
    stored word and the word shown. A common fact stands open on its form, the others behind a fold.
    """

    name: str
    label: str
    stage: Stage
    kind: str
    unit: str = ""
    low: float | None = None
    high: float | None = None
    choices: Mapping[str, str] = MappingProxyType({})
    common: bool = False
    hint: str = ""

    def range_words(self) -> str:
        """The allowed range in words, for the hint beside a field and for a refusal."""
        if self.low is None or self.high is None:
            return ""
        return f"{figure(self.low)} to {with_unit(self.high, self.unit)}"


def _number(
    name: str, label: str, stage: Stage, unit: str, low: float, high: float, **more: Any
) -> Fact:
    return Fact(name, label, stage, "number", unit=unit, low=low, high=high, **more)


def _choice(name: str, label: str, stage: Stage, **more: Any) -> Fact:
    choices = {key.rstrip("_").replace("_", "-"): words for key, words in more.pop("of").items()}
    return Fact(name, label, stage, "choice", choices=MappingProxyType(choices), **more)


def _yes_no(name: str, label: str, stage: Stage, **more: Any) -> Fact:
    return Fact(name, label, stage, "yes-no", **more)


def _text(name: str, label: str, stage: Stage, **more: Any) -> Fact:
    return Fact(name, label, stage, "text", **more)


def _rows() -> Iterator[Fact]:
    yield from _layup()
    yield from _bag()
    yield from _resin()
    yield from _cure()
    yield from _demould()
    yield from _weigh()


def _layup() -> Iterator[Fact]:
    s = Stage.LAYUP
    yield _choice(
        "process",
        "Process",
        s,
        common=True,
        of={
            "wet_layup": "wet lay-up, no bag",
            "bagged_wet_layup": "bagged wet lay-up",
            "infusion": "vacuum infusion",
        },
    )
    yield Fact(
        "plies",
        "Plies, tool side first",
        s,
        "plies",
        common=True,
        hint="one ply a line: material; g/m²; orientation; face (tool or bag)",
    )
    yield _choice(
        "core",
        "Core",
        s,
        common=True,
        of={
            "none": "no core",
            "pvc_foam": "PVC foam",
            "pu_foam": "PU foam",
            "balsa": "balsa",
            "honeycomb": "honeycomb",
            "other": "other core",
        },
    )
    yield _number("core_thickness_mm", "Core thickness", s, "mm", 0.5, 100, common=True)
    yield _yes_no("core_perforated", "Core perforated", s, common=True)
    yield _yes_no("core_grooved", "Core grooved or kerfed", s)
    yield _choice(
        "core_fit", "Core joints", s, of={"tight": "tight, 1 mm or less", "gaps": "with gaps"}
    )
    yield _yes_no("core_bedded", "Core bedded or primed in resin", s)
    yield _choice(
        "tack_adhesive",
        "Tack adhesive",
        s,
        common=True,
        of={"none": "none", "light": "light mist", "heavy": "heavy"},
    )
    yield _choice(
        "tack_face",
        "Tack adhesive on",
        s,
        common=True,
        of={
            "tool": "the tool face",
            "interply": "between plies",
            "core": "the core",
            "bag": "the last ply, peel ply or mesh",
        },
    )
    yield _choice(
        "tack_kind",
        "Tack adhesive is",
        s,
        of={"infusion_grade": "sold for infusion", "general": "general purpose"},
    )
    yield _choice(
        "surface_fabric",
        "Cloth at the surface",
        s,
        of={
            "woven": "woven",
            "stitched": "stitched",
            "unidirectional": "unidirectional",
            "mat": "chopped mat",
        },
    )
    yield _yes_no("surface_veil", "Veil or fine ply against the tool", s)
    yield _yes_no("gelcoat", "Gel coat", s)
    yield _choice(
        "coat",
        "In-mould coat",
        s,
        of={"none": "none", "thin": "thin", "as_sheet": "as its data sheet", "thick": "thick"},
    )
    yield _text("mould_surface", "Mould surface", s, hint="gel coat, glass, metal, printed …")
    yield _choice(
        "tool_surface", "Tool face", s, of={"good": "good", "worn": "worn, porous or cracked"}
    )
    yield _choice(
        "release_system",
        "Release",
        s,
        of={
            "wax": "wax",
            "semi_permanent": "semi-permanent",
            "film": "film-forming",
            "none": "none",
            "other": "other",
        },
    )
    yield _choice(
        "release_state",
        "Release was",
        s,
        of={
            "as_instructed": "as instructed",
            "over_applied": "over-applied or not flashed off",
            "worn": "overdue",
        },
    )
    yield _number("inside_radius_mm", "Smallest inside radius", s, "mm", 0, 1000)
    yield _number("laminate_thickness_mm", "Laminate thickness planned", s, "mm", 0.1, 60)
    yield _yes_no("symmetric", "Laminate symmetric and balanced", s)
    yield _yes_no("fabric_dry", "Cloth and core stored dry", s)
    yield _yes_no("kinked", "Cloth kinked, dragged or under tension", s)
    yield _yes_no("shop_clean", "Lay-up kept apart from sanding", s)
    yield _yes_no("silicone_in_shop", "Silicone sprays or sealants in the shop", s)
    yield _text("surface_prep", "Surface preparation", s)
    yield _number("ambient_c", "Air temperature", s, "°C", -10, 50, common=True)
    yield _number("humidity_pct", "Relative humidity", s, "%", 1, 100, common=True)
    yield _number("mould_temp_c", "Mould temperature", s, "°C", -10, 150)


def _bag() -> Iterator[Fact]:
    s = Stage.BAG
    yield _choice(
        "peel_ply",
        "Peel ply",
        s,
        common=True,
        of={"none": "none", "uncoated": "uncoated", "coated": "release-coated"},
    )
    yield _choice("peel_ply_weave", "Peel-ply weave", s, of={"fine": "fine", "coarse": "coarse"})
    yield _yes_no("flow_media", "Flow media", s, common=True)
    yield _choice(
        "media_edge",
        "Flow media ends",
        s,
        of={"brake": "short of the vent, with a brake", "to_vent": "at the vent or edge"},
    )
    yield _choice(
        "feed_placed",
        "Feed placed",
        s,
        of={"good": "well", "poor": "poorly, could lock air in"},
    )
    yield _choice(
        "vent_placed",
        "Vent placed",
        s,
        of={"good": "at the last place to fill", "poor": "elsewhere"},
    )
    yield _yes_no("edge_gap", "Gap between plies and dam, or a loose edge", s)
    yield _choice(
        "bag_slack", "Bag", s, of={"slack": "with pleats at corners", "tight": "stretched"}
    )
    yield _choice(
        "bleeder",
        "Bleeder",
        s,
        of={"little": "too little", "right": "right", "much": "too much"},
    )
    yield _number(
        "vacuum_abs_mbar", "Pressure in the bag, absolute", s, "mbar", 0, 1100, common=True
    )
    yield _number("drop_start_mbar", "Drop test, start", s, "mbar", 0, 1100, common=True)
    yield _number("drop_end_mbar", "Drop test, end", s, "mbar", 0, 1100, common=True)
    yield _number("drop_minutes", "Drop test lasted", s, "min", 0.5, 1440, common=True)
    yield _yes_no("vacuum_lost", "Vacuum lost between closing and gel", s)


def _resin() -> Iterator[Fact]:
    s = Stage.RESIN
    yield _text("resin_system", "Resin system", s, common=True)
    yield _number("resin_opened_days", "Resin opened", s, "days ago", 0, 3650)
    yield _number("resin_planned_g", "Resin planned", s, "g", 0, 100_000, common=True)
    yield _number("resin_mixed_g", "Resin mixed", s, "g", 0, 100_000, common=True)
    yield _number("resin_left_g", "Resin left over", s, "g", 0, 100_000, common=True)
    yield _yes_no("mix_logged", "Weights of the mix written down", s)
    yield _number("mix_ratio_error_pct", "Mix ratio off by", s, "%", -50, 50)
    yield _choice(
        "mixing",
        "Mixing",
        s,
        of={"good": "scraped and turned over", "poor": "streaks or single pot"},
    )
    yield _yes_no("degassed", "Resin degassed", s, common=True)
    yield _number("resin_temp_c", "Resin temperature", s, "°C", 0, 120, common=True)
    yield _choice(
        "resin_viscosity",
        "Resin ran",
        s,
        of={"low": "thin", "as_sheet": "as its data sheet", "high": "thick"},
    )
    yield _number("pot_life_min", "Pot life at that temperature", s, "min", 1, 1440)
    yield _number("fill_time_min", "Fill or wet-out took", s, "min", 0, 1440, common=True)
    yield _choice(
        "feed_closed",
        "Feed clamped",
        s,
        of={
            "early": "before the last area filled, or the vent drained it after",
            "on_time": "soon after the front arrived",
            "late": "left open to gel",
            "drew_air": "pot ran dry, air drawn in",
        },
    )
    yield _choice("rolling", "Rolling and squeegee work", s, of={"good": "good", "poor": "poor"})
    yield _yes_no("pooled_resin", "Resin pooled deeper than about 10 mm", s)


def _cure() -> Iterator[Fact]:
    s = Stage.CURE
    yield _number("cure_c", "Cure temperature", s, "°C", 0, 250, common=True)
    yield _number("cure_h", "Cure time", s, "h", 0, 1000, common=True)
    yield _number("postcure_c", "Post-cure temperature", s, "°C", 0, 250)
    yield _number("postcure_h", "Post-cure time", s, "h", 0, 200)
    yield _yes_no("unflued_heater", "Unflued gas or oil heater in the room", s)


def _demould() -> Iterator[Fact]:
    s = Stage.DEMOULD
    yield _number("demould_after_h", "Demoulded after", s, "h", 0, 2000, common=True)
    yield _number("part_temp_c", "Part temperature at peel", s, "°C", -10, 150)
    yield _number(
        "peel_fold_back_deg",
        "Peel ply folded back",
        s,
        "°",
        0,
        180,
        common=True,
        hint="180 is folded flat back over the cloth still bonded, 90 is straight up",
    )
    yield _choice(
        "peel_start",
        "Peel started at",
        s,
        common=True,
        of={
            "thick": "the thick or trim zone",
            "thin_edge": "a thin free edge",
            "corner": "a corner",
        },
    )
    yield _choice(
        "peel_direction",
        "Pulled",
        s,
        of={"along_ply": "along the top ply", "across_ply": "across the top ply"},
    )
    yield _yes_no("spiral_removed_first", "Spiral, mesh and ridges off first", s, common=True)
    yield _choice(
        "peel_pace", "Pace", s, common=True, of={"slow": "slow and steady", "rushed": "rushed"}
    )
    yield _choice(
        "demould_tools",
        "Demould tools",
        s,
        of={"soft": "soft wedges, water, air", "hard": "metal blades or levers"},
    )
    yield _choice(
        "trim_tool",
        "Trimmed with",
        s,
        of={"abrasive": "grit edge", "toothed": "toothed blade", "blunt": "blunt blade"},
    )
    yield _yes_no("knocked", "Part knocked or dropped", s)


def _weigh() -> Iterator[Fact]:
    s = Stage.WEIGH
    yield _number("mass_g", "Mass", s, "g", 0.1, 500_000, common=True)
    yield _number("area_dm2", "Area", s, "dm²", 0.01, 10_000, common=True)
    yield _number("thickness_mm", "Thickness measured", s, "mm", 0.1, 200)
    yield _number("effort_min", "Working time", s, "min", 0, 100_000, common=True)


FACTS: Mapping[str, Fact] = MappingProxyType({fact.name: fact for fact in _rows()})


def of_stage(stage: Stage) -> tuple[Fact, ...]:
    """The facts known at one stage, in the order of the form."""
    return tuple(fact for fact in FACTS.values() if fact.stage is stage)


def read_fact(fact: Fact, text: str) -> Any:
    """Read a fact as typed into a form or given on the command line.

    Returns
    -------
    float, str, bool, list of dict, or None for an empty text.

    Raises
    ------
    FieldError
        If the text cannot be that fact, naming the allowed values.
    """
    text = text.strip()
    if not text:
        return None
    if fact.kind == "number":
        return _in_range(fact, read_number(text, field=fact.name, label=fact.label))
    if fact.kind == "yes-no":
        words = {"yes": True, "true": True, "1": True, "no": False, "false": False, "0": False}
        if text.lower() not in words:
            raise FieldError(fact.name, f"{fact.label}: “{text}” is not yes or no", "say yes or no")
        return words[text.lower()]
    if fact.kind == "choice":
        if text not in fact.choices:
            raise FieldError(
                fact.name,
                f"{fact.label}: “{text}” is not one of the choices",
                "choose " + ", ".join(fact.choices),
            )
        return text
    if fact.kind == "plies":
        return [_read_ply(fact, line) for line in text.splitlines() if line.strip()]
    if len(text) > 200:
        raise FieldError(fact.name, f"{fact.label} is longer than 200 characters", "shorten it")
    return text


def _in_range(fact: Fact, value: float) -> float:
    if fact.low is not None and fact.high is not None and not fact.low <= value <= fact.high:
        raise FieldError(
            fact.name,
            f"{fact.label}: {with_unit(value, fact.unit)} is outside the range",
            f"enter {fact.range_words()}",
        )
    return value


def _read_ply(fact: Fact, line: str) -> dict[str, Any]:
    cells = [cell.strip() for cell in line.split(";")] + [""] * 4
    material, weight, orientation, face = cells[:4]
    if not material or not weight:
        raise FieldError(
            fact.name,
            f"{fact.label}: “{line.strip()}” lacks a material or its areal weight",
            "write it as: woven glass; 200; 0/90; tool",
        )
    weight = weight.lower().replace("g/m²", "").replace("g/m2", "")
    areal = read_number(weight, field=fact.name, label=f"{fact.label}, areal weight")
    if not 10 <= areal <= 5000:
        raise FieldError(
            fact.name,
            f"{fact.label}: {with_unit(areal, 'g/m²')} is outside the range",
            f"enter 10 to {with_unit(5000, 'g/m²', 4)}",
        )
    if face not in ("", "tool", "bag"):
        raise FieldError(
            fact.name, f"{fact.label}: the face “{face}” is not known", "write tool or bag"
        )
    return {
        "material": material[:60],
        "areal_weight_g_m2": areal,
        "orientation": orientation[:20],
        "face": face,
    }


def fact_text(fact: Fact, value: Any) -> str:
    """A fact as its form field holds it, so that reading it back gives the same value."""
    if value is None:
        return ""
    if fact.kind == "number":
        return repr(float(value)).removesuffix(".0")
    if fact.kind == "yes-no":
        return "yes" if value else "no"
    if fact.kind == "plies":
        return "\n".join(
            "; ".join(
                (
                    ply["material"],
                    repr(float(ply["areal_weight_g_m2"])).removesuffix(".0"),
                    ply["orientation"],
                    ply["face"],
                )
            )
            for ply in value
        )
    return str(value)


def fact_words(fact: Fact, value: Any) -> str:
    """A fact as it is shown: with its unit, its choice in words."""
    if fact.kind == "number":
        return with_unit(value, fact.unit, digits=4)
    if fact.kind == "yes-no":
        return "yes" if value else "no"
    if fact.kind == "choice":
        return fact.choices.get(value, str(value))
    if fact.kind == "plies":
        return ", ".join(_ply_words(ply) for ply in value)
    return str(value)


def _ply_words(ply: Mapping[str, Any]) -> str:
    words = f"{ply['material']} {with_unit(ply['areal_weight_g_m2'], 'g/m²')}"
    if ply["orientation"]:
        words += f" at {ply['orientation']}"
    return words + (f" ({ply['face']} side)" if ply["face"] else "")
