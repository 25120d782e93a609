"""The form of a trial read back: what is asked, and what the answer takes, fault by fault."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy.orm import Session

from defectlog.bench.kinds import names_of
from defectlog.bench.parts import list_parts
from defectlog.bench.trial_deal import MOST_SETTINGS, TO_VARY, TrialPlan
from defectlog.bench.trial_plan import (
    CountSpread,
    Sizing,
    guessed,
    known_spread,
    shown_by,
    size_trial,
)
from defectlog.bench.trial_results import JUDGED, MEASURES, TOOL_AT_DEMOULD
from defectlog.charts.plan import Spread
from defectlog.errors import FieldError
from defectlog.facts import FACTS, Fact, fact_text, read_fact
from defectlog.records import TrialResult
from defectlog.units import read_number

DEFAULT_PANELS = 4
_LARGEST = 1e6  # of anything, in its unit


@dataclass(frozen=True, slots=True)
class Asked:
    """The first half of the form: what is asked, of which part, and what it is judged by."""

    question: str
    part_id: int
    fact: Fact
    result: TrialResult
    kind: str | None
    by_day: bool
    surface: str


def read_asked(session: Session, form: Mapping[str, str]) -> tuple[Asked | None, dict[str, str]]:
    """Read the first half; without faults there is an answer."""
    faults: dict[str, str] = {}
    question = form.get("question", "").strip()
    if not question:
        faults["question"] = "The trial asks nothing yet: write the question in a line."
    parts = {str(part.id): part.id for part in list_parts(session)}
    part_id = parts.get(form.get("part", ""))
    if part_id is None:
        faults["part"] = "No part is chosen: choose what the panels are."
    fact = FACTS.get(form.get("fact", ""))
    if fact is None or fact.name not in TO_VARY:
        faults["fact"] = "Nothing to vary is chosen: choose one build fact."
    result = next((one for one in TrialResult if one.value == form.get("result")), None)
    if result is None:
        faults["result"] = "Nothing to judge by is chosen: choose one."
    kind = form.get("kind", "")
    if result is TrialResult.FINDINGS and kind and kind not in names_of(session).titles:
        faults["kind"] = "There is no such kind of finding: choose one of the list, or all."
    surface = form.get("surface") or TOOL_AT_DEMOULD.key
    if surface not in JUDGED:
        faults["surface"] = "There is no such surface: choose one of the list."
    asked_kind = kind or None if result is TrialResult.FINDINGS else None
    if faults or part_id is None or fact is None or result is None:
        return None, faults
    by_day = form.get("by_day") == "yes"
    return Asked(question, part_id, fact, result, asked_kind, by_day, surface), {}


@dataclass(frozen=True, slots=True)
class Answer:
    """The second half: settings, the difference that matters, and what the number rests on."""

    settings: tuple[Any, ...]
    difference: float | None
    panels: int | None
    spread: Spread | CountSpread | None
    spread_words: str
    sizing: Sizing | None
    shown: tuple[tuple[int, str], ...]
    faults: Mapping[str, str]

    def plan(self, asked: Asked) -> TrialPlan | None:
        """The plan to be kept, once nothing is missing."""
        if self.faults or self.difference is None or self.panels is None:
            return None
        said = (self.spread_words, self.sizing.words if self.sizing else "")
        return TrialPlan(
            part_id=asked.part_id,
            question=asked.question,
            fact=asked.fact.name,
            settings=self.settings,
            result=asked.result,
            smallest_difference=self.difference,
            per_setting=self.panels,
            by_day=asked.by_day,
            kind=asked.kind,
            surface=asked.surface,
            planned_words=" ".join(filter(None, said)),
        )


def read_answer(session: Session, asked: Asked, form: Mapping[str, str]) -> Answer:
    """Read the second half as far as it was filled in, and size the trial as far as that allows."""
    faults: dict[str, str] = {}
    factor = MEASURES[asked.result].factor
    settings = _settings(asked.fact, form, faults)
    difference = _positive(form, "difference", "Smallest difference", faults)
    typed_spread = _positive(form, "spread", "Spread", faults)
    panels = _positive(form, "panels", "Panels of each setting", faults)
    if panels is not None and panels != int(panels):
        faults["panels"] = "Panels come in whole numbers: make 2 or more of each setting."
    known = known_spread(
        session, asked.part_id, asked.result, asked.fact.name, asked.kind, surface=asked.surface
    )
    spread: Spread | CountSpread | None = known.spread if known else None
    if spread is None and typed_spread:
        spread = guessed(typed_spread / factor)
    if difference is not None:
        difference /= factor
    number = max(2, len(settings))
    return Answer(
        settings=settings,
        difference=difference,
        panels=None if panels is None else int(panels),
        spread=spread,
        spread_words=known.words if known else "",
        sizing=size_trial(asked.result, difference, spread, settings=number, by_day=asked.by_day)
        if spread and difference
        else None,
        shown=shown_by(asked.result, spread, settings=number, by_day=asked.by_day)
        if spread
        else (),
        faults=faults,
    )


def setting_name(place: int) -> str:
    """The field of one setting, from 1."""
    return f"setting-{place}"


def first_settings(fact: Fact, now: Any) -> dict[str, str]:
    """What the settings show before anybody typed: first the one of the part's newest build."""
    if fact.kind == "yes-no":
        return {setting_name(1): "yes" if now else "no", setting_name(2): "no" if now else "yes"}
    return {setting_name(1): fact_text(fact, now)} if now is not None else {}


def _settings(fact: Fact, form: Mapping[str, str], faults: dict[str, str]) -> tuple[Any, ...]:
    found = []
    for place in range(1, MOST_SETTINGS + 1):
        name = setting_name(place)
        try:
            value = read_fact(fact, form.get(name, ""))
        except FieldError as fault:
            faults[name] = str(fault)
            continue
        if value is not None:
            if value in found:
                faults[name] = "This setting stands above already: make them different."
            found.append(value)
        elif place <= 2:
            faults[name] = "A trial compares two settings or more: fill this one in."
    return tuple(found)


def _positive(
    form: Mapping[str, str], name: str, label: str, faults: dict[str, str]
) -> float | None:
    text = form.get(name, "").strip()
    if not text:
        return None
    try:
        value = read_number(text, field=name, label=label)
    except FieldError as fault:
        faults[name] = str(fault)
        return None
    if value <= 0:
        faults[name] = f"{label}: it is not above 0: give it as a plain size."
        return None
    if name != "panels" and not 1 / _LARGEST <= value <= _LARGEST:
        faults[name] = f"{label}: no panel differs by that: look at the number and its unit again."
        return None
    return value
