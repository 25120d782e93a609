"""The build facts: what may be known of a build, in which unit and range, and at which stage.

The table itself is ``facts.toml``; forms, exports, the ranking of causes, the trends and the trials
all read it here.
Where a shop can measure, the fact is the measured number; the classes people speak in (a bag that
is tight, a cloth that was folded back) are derived from it by ``derived.py``.
"""

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from enum import Enum
from pathlib import Path
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
    choices: Mapping[str, str] = field(default_factory=dict)
    common: bool = False
    hint: str = ""

    def range_words(self) -> str:
        """The allowed range in words, for the hint beside a field and for a refusal."""
        if self.low is None or self.high is None:
            return ""
        return f"{figure(self.low)} to {with_unit(self.high, self.unit)}"


def _load() -> Iterator[Fact]:
    table = tomllib.loads(Path(__file__).with_name("facts.toml").read_text("utf-8"))
    for stage in Stage:
        for name, row in table[stage.key].items():
            yield _fact(name, stage, row)


def _fact(name: str, stage: Stage, row: dict[str, Any]) -> Fact:
    kind = row.get("kind") or ("choice" if "choices" in row else "number")
    low, high = row.get("range", (None, None))
    return Fact(
        name,
        row["label"],
        stage,
        kind,
        unit=row.get("unit", ""),
        low=low,
        high=high,
        choices=MappingProxyType(row.get("choices", {})),
        common=row.get("common", False),
        hint=row.get("hint", ""),
    )


FACTS: Mapping[str, Fact] = MappingProxyType({fact.name: fact for fact in _load()})


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
            f"{fact.label}: {_told(value, fact.unit)} is outside the range",
            f"enter {fact.range_words()}",
        )
    return value


def _told(value: float, unit: str) -> str:
    # To every digit that was typed, for rounded it may read as one that is allowed. Written out,
    # 1e308 fills a screen.
    return with_unit(value, unit, 12) if abs(value) < 1e9 else "the number"


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
            f"{fact.label}: {_told(areal, 'g/m²')} is outside the range",
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


WHERE_NAMES_ARE = "defectlog why KIND ends with the names that speak of that kind"


def read_named(text: str) -> tuple[str, Any]:
    """Read ``name=value`` as given on the command line; plies are divided by ``|``.

    Raises
    ------
    FieldError
        If there is no such fact, or the value cannot be it.
    """
    name, equals, value = text.partition("=")
    fact = FACTS.get(name.strip())
    if not equals or fact is None:
        close = get_close_matches(name.strip(), FACTS, n=3) if fact is None else ()
        raise FieldError(
            "fact",
            f"“{text}” is not a known build fact with a value",
            "write NAME=VALUE, such as peel_fold_back_deg=90; "
            + (f"close names are {', '.join(close)}" if close else WHERE_NAMES_ARE),
        )
    return fact.name, read_fact(fact, value.replace("|", "\n"))


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
