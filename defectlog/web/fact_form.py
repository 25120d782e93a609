"""The facts of one stage as form fields, and a filled-in form read back, fault by fault."""

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from defectlog.errors import FieldError
from defectlog.facts import Fact, Stage, fact_text, of_stage, read_fact


@dataclass(frozen=True, slots=True)
class FactField:
    """One build fact on its form: its text, where that came from, what is wrong with it.

    ``was`` is the text of what the build holds, sent along so that a form left open for long
    changes nothing but what was typed into it.
    """

    fact: Fact
    text: str
    was: str
    note: str = ""
    error: str = ""

    @property
    def hint(self) -> str:
        return " · ".join(filter(None, (self.fact.hint, self.fact.range_words())))

    @property
    def needs_a_look(self) -> bool:
        """Whether it holds something nobody has looked at yet: a fault, or a proposal."""
        return bool(self.error or self.note)


def fact_fields(
    stage: Stage, known: Mapping[str, Any], *, same_as: Mapping[str, Any], note: str
) -> list[FactField]:
    """The fields of a stage: what this build holds, else what the build before held, marked so."""
    fields = []
    for fact in of_stage(stage):
        own, earlier = known.get(fact.name), same_as.get(fact.name)
        was = fact_text(fact, own)
        if own is None and earlier is not None:
            fields.append(FactField(fact, fact_text(fact, earlier), was, note))
        else:
            fields.append(FactField(fact, was, was))
    return fields


def typed_fields(
    stage: Stage,
    form: Mapping[str, str],
    faults: Mapping[str, str],
    known: Mapping[str, Any],
    *,
    overtaken: bool = False,
) -> list[FactField]:
    """The fields of a form that was not accepted: everything as it was typed, faults beside it.

    A field nobody typed into shows what the build holds by now. With ``overtaken`` the faults
    tell of values saved meanwhile: they have been read then, and the next save may replace them.
    """
    fields = []
    for fact in of_stage(stage):
        now, typed = fact_text(fact, known.get(fact.name)), form.get(fact.name, "")
        was = form.get(was_name(fact), now)
        error = faults.get(fact.name, "")
        if was_name(fact) in form and _plain(typed) == _plain(was):
            typed = was = now
        elif error and overtaken:
            was = now
        fields.append(FactField(fact, typed, was, error=error))
    return fields


def was_name(fact: Fact) -> str:
    """The hidden field that says what a fact was when its form was opened."""
    return f"was.{fact.name}"


def _plain(text: str) -> str:
    return text.replace("\r\n", "\n").strip()


def seen_facts(stage: Stage, form: Mapping[str, str]) -> dict[str, Any]:
    """What the facts of a stage were when the form was opened, as far as the form says so."""
    seen: dict[str, Any] = {}
    for fact in of_stage(stage):
        with suppress(FieldError):
            if was_name(fact) in form:
                seen[fact.name] = read_fact(fact, form[was_name(fact)])
    return seen


def read_facts(stage: Stage, form: Mapping[str, str]) -> tuple[dict[str, Any], dict[str, str]]:
    """Read every field of a stage that was sent: the values, and the faults by name of field.

    An empty field is read as ``None``: the fact is not known (any more). A field that was not
    sent at all is left as it is.
    """
    values: dict[str, Any] = {}
    faults: dict[str, str] = {}
    for fact in of_stage(stage):
        if fact.name not in form:
            continue
        try:
            values[fact.name] = read_fact(fact, form[fact.name])
        except FieldError as fault:
            faults[fact.name] = str(fault)
    return values, faults
