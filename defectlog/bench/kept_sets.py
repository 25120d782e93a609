"""Sets of builds kept under a name: chosen once, looked at again by one tap."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from defectlog.bench.build_sets import MOST_NAMED
from defectlog.bench.parts import one_line
from defectlog.errors import FieldError, FormError, NotFoundError
from defectlog.records import Build, KeptSet, KeptSetBuild

LONGEST_NAME = 60  # characters


@dataclass(frozen=True, slots=True)
class NamedSet:
    """A kept set: its number, its name, and the numbers of its builds."""

    id: int
    name: str
    builds: tuple[int, ...]


def kept_sets(session: Session) -> tuple[NamedSet, ...]:
    """Every kept set by its name; builds in the bin are not in it."""
    members: dict[int, list[int]] = {}
    for number, build in session.execute(
        select(KeptSetBuild.set_id, Build.id)
        .join(Build, KeptSetBuild.build_id == Build.id)
        .order_by(Build.id)
    ):
        members.setdefault(number, []).append(build)
    rows = session.execute(select(KeptSet.id, KeptSet.name).order_by(func.lower(KeptSet.name)))
    return tuple(NamedSet(row.id, row.name, tuple(members.get(row.id, ()))) for row in rows)


def find_kept(sets: Collection[NamedSet], name: str, builds: Collection[int]) -> NamedSet | None:
    """The kept set that is just these builds under this name."""
    asked = name.strip(), tuple(sorted(builds))
    return next((one for one in sets if (one.name, one.builds) == asked), None)


def keep_set(
    session: Session,
    name: str,
    builds: Collection[int],
    *,
    at: datetime,
    may_replace: bool = False,
) -> KeptSet:
    """Keep builds as a set. With ``may_replace`` a set of that name holds them instead of its own.

    Raises
    ------
    FormError
        If the set has no name, too long a one or one that is taken, or no build that there is.
    """
    name = one_line(name)
    faults = []
    if not name:
        faults.append(FieldError("name", "The set has no name", "say what these builds are"))
    elif len(name) > LONGEST_NAME:
        faults.append(
            FieldError("name", f"The name is longer than {LONGEST_NAME} characters", "shorten it")
        )
    kept = session.scalar(select(KeptSet).where(KeptSet.name == name))
    if kept is not None and not may_replace:
        what = f"A set called “{name}” is kept already"
        faults.append(FieldError("name", what, "give another name, or let it hold these builds"))
    there: list[int] = []
    if len(builds) <= MOST_NAMED:
        there = sorted(session.scalars(select(Build.id).where(Build.id.in_(builds))))
    if not there:
        what = f"The set holds no build, or more than {MOST_NAMED}"
        faults.append(FieldError("tick", what, "tick those that belong to it"))
    if faults:
        raise FormError(faults)
    if kept is None:
        kept = KeptSet(name=name, at=at)
        session.add(kept)
    kept.at = at
    kept.members.clear()
    session.flush()
    kept.members.extend(KeptSetBuild(build_id=number) for number in there)
    session.flush()
    return kept


def drop_set(session: Session, number: int) -> str:
    """Forget a set and say its name; its builds stay as they are."""
    kept = session.get(KeptSet, number)
    if kept is None:
        raise NotFoundError("set", number)
    session.delete(kept)
    session.flush()
    return kept.name
