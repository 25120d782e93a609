"""The facts of one stage as form fields, and a filled-in form read back, fault by fault."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from defectlog.errors import FieldError
from defectlog.facts import Fact, Stage, fact_text, of_stage, read_fact


@dataclass(frozen=True, slots=True)
class FactField:
    """One build fact on its form: its text, where that came from, what is wrong with it."""

    fact: Fact
    text: str
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
        if own is None and earlier is not None:
            fields.append(FactField(fact, fact_text(fact, earlier), note))
        else:
            fields.append(FactField(fact, fact_text(fact, own)))
    return fields


def typed_fields(
    stage: Stage, form: Mapping[str, str], faults: Mapping[str, str]
) -> list[FactField]:
    """The fields of a form that was not accepted: everything as it was typed, faults beside it."""
    return [
        FactField(fact, form.get(fact.name, ""), error=faults.get(fact.name, ""))
        for fact in of_stage(stage)
    ]


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
