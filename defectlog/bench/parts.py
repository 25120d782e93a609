"""The parts a workshop makes, and what each may have of every kind of defect."""

import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from defectlog.errors import ChangedMeanwhileError, FieldError, FormError, NotFoundError
from defectlog.records import Limit, Part, Workshop
from defectlog.units import with_unit

HEAVIEST_G = 1_000_000  # a tonne: heavier is a slip of the finger, not a small workshop's part
LONGEST_PLAN = 4000  # characters

# What a part says of itself, as its form calls it.
DETAILS = {
    "name": "Name",
    "drawing_ref": "Drawing reference",
    "mould": "Mould",
    "target_mass_g": "Target mass",
    "laminate_plan": "Laminate plan",
}


@dataclass(frozen=True, slots=True)
class LimitPlan:
    """The largest a part may have of one kind; what is ``None`` is not limited."""

    largest_mm: float | None = None
    per_dm2: float | None = None
    area_fraction: float | None = None

    @property
    def says_anything(self) -> bool:
        return any(v is not None for v in (self.largest_mm, self.per_dm2, self.area_fraction))


@dataclass(frozen=True, slots=True)
class PartPlan:
    """What a person enters of a part."""

    name: str
    drawing_ref: str = ""
    mould: str = ""
    target_mass_g: float | None = None
    laminate_plan: str = ""
    limits: Mapping[str, LimitPlan] = field(default_factory=dict)


def find_part(session: Session, number: int) -> Part:
    """The part of that number."""
    part = session.get(Part, number)
    if part is None:
        raise NotFoundError("part", number)
    return part


def list_parts(session: Session) -> list[Part]:
    """Every part, by name."""
    return list(session.scalars(select(Part).order_by(func.lower(Part.name))))


def save_part(
    session: Session, plan: PartPlan, number: int | None = None, *, seen: PartPlan | None = None
) -> Part:
    """Enter a new part, or change the one of that number.

    ``seen`` is what the part said when the plan was typed, where that is known: a detail that has
    not been changed since is left alone.

    Raises
    ------
    FormError
        If the name is empty or taken, the mass is not above 0 and up to a tonne, the plan is
        longer than a sheet, or a limit is negative.
    ChangedMeanwhileError
        If a detail was changed both here and elsewhere since it was seen; nothing is saved then.
    """
    plan = _tidied(plan)
    part = Part() if number is None else find_part(session, number)
    if seen is not None:
        plan = _not_overtaken(part, plan, _tidied(seen))
    faults = list(_faults(session, plan, plan.name, number))
    if faults:
        raise FormError(faults)
    for name in DETAILS:
        setattr(part, name, getattr(plan, name))
    kept = {limit.kind: limit for limit in part.limits}
    for kind, wanted in plan.limits.items():
        limit = kept.pop(kind, None)
        if not wanted.says_anything:
            if limit is not None:
                part.limits.remove(limit)
            continue
        if limit is None:
            limit = Limit(kind=kind)
            part.limits.append(limit)
        limit.largest_mm, limit.per_dm2 = wanted.largest_mm, wanted.per_dm2
        limit.area_fraction = wanted.area_fraction
    session.add(part)
    session.flush()
    return part


def _tidied(plan: PartPlan) -> PartPlan:
    return replace(
        plan,
        name=one_line(plan.name),
        drawing_ref=one_line(plan.drawing_ref),
        mould=one_line(plan.mould),
        laminate_plan=plan.laminate_plan.replace("\r\n", "\n").strip(),
    )


def _not_overtaken(part: Part, plan: PartPlan, seen: PartPlan) -> PartPlan:
    """The plan, its details nobody typed into as they stand by now."""
    untouched, overtaken = {}, []
    for name, label in DETAILS.items():
        typed, was, now = getattr(plan, name), getattr(seen, name), getattr(part, name)
        if typed == was:
            untouched[name] = now
        elif now not in (was, typed):
            overtaken.append(_overtaken(name, label, now))
    if overtaken:
        raise ChangedMeanwhileError(overtaken)
    return replace(plan, **untouched)


def _overtaken(name: str, label: str, now: str | float | None) -> FieldError:
    words = with_unit(now, "g", 12) if isinstance(now, float) else now
    return FieldError(
        name,
        f"{label}: {f'“{words}” was saved' if words else 'it was emptied'} on another screen "
        "meanwhile",
        "save once more to keep what stands here, or correct it first",
    )


def _faults(session: Session, plan: PartPlan, name: str, number: int | None):
    if not name:
        yield FieldError("name", "The part has no name", "call it what the shop calls it")
    elif len(name) > 80:
        yield FieldError("name", "The name is longer than 80 characters", "shorten it")
    else:
        same = session.scalar(select(Part).where(func.lower(Part.name) == name.lower()))
        if same is not None and same.id != number:
            yield FieldError(
                "name", f"There is a part called {same.name} already", "give this one another name"
            )
    for key, label in (("drawing_ref", "drawing reference"), ("mould", "mould")):
        if len(getattr(plan, key)) > 80:
            yield FieldError(key, f"The {label} is longer than 80 characters", "shorten it")
    if len(plan.laminate_plan) > LONGEST_PLAN:
        yield FieldError(
            "laminate_plan", f"The plan is longer than {LONGEST_PLAN} characters", "shorten it"
        )
    if plan.target_mass_g is not None and not plan.target_mass_g > 0:
        yield FieldError("target_mass_g", "The target mass is not above 0 g", "enter it in grams")
    elif plan.target_mass_g is not None and plan.target_mass_g > HEAVIEST_G:
        yield FieldError("target_mass_g", "The target mass is over a tonne", "enter it in grams")
    for kind, limit in plan.limits.items():
        for key in ("largest_mm", "per_dm2", "area_fraction"):
            value = getattr(limit, key)
            if value is not None and value < 0:
                yield FieldError(
                    f"limit-{kind}-{key}", "A limit cannot be negative", "enter 0 for none allowed"
                )
        if limit.area_fraction is not None and limit.area_fraction > 1:
            yield FieldError(
                f"limit-{kind}-area_fraction",
                "A share of the area cannot be above 100 %",
                "enter per cent of the face, such as 0.5",
            )


def one_line(text: str) -> str:
    """A name as it is kept: on one line, without characters that cannot be seen.

    Two names that look alike would otherwise both be taken, and a mark that turns the direction
    of writing would garble the line around it. What joins the pieces of an emoji stays.
    """
    seen = (
        " " if unicodedata.category(c) == "Cc" else c
        for c in text
        if unicodedata.category(c) != "Cf" or c in "\u200c\u200d"
    )
    return " ".join("".join(seen).split())


def workshop_name(session: Session) -> str:
    """What the workshop is called."""
    row = session.get(Workshop, 1)
    return row.name if row else "Our workshop"


def rename_workshop(session: Session, name: str) -> None:
    """Call the workshop by another name."""
    name = one_line(name)
    if not name or len(name) > 80:
        raise FormError(
            [FieldError("name", "The workshop needs a name of 1 to 80 characters", "write one")]
        )
    row = session.get(Workshop, 1) or Workshop(id=1)
    row.name = name
    session.add(row)
