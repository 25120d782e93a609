"""The builds that limits rest on, where a set is too large to be drawn whole."""

import json
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, String, cast, func, or_, select
from sqlalchemy.orm import Session

from defectlog.bench.build_sets import (
    BuildSet,
    ChosenBuilds,
    Made,
    choose_builds,
    conditions,
    facts_of,
    made_where,
)
from defectlog.bench.leaks import LEAK_FACTS
from defectlog.bench.marked_changes import MOST_TURNS, WATCHED, by_fact, marked_changes
from defectlog.records import Build, BuildFact, Part

# Looked through for the first values of a stretch: not every build was measured.
_LOOKED_THROUGH = 60


@dataclass(frozen=True, slots=True)
class Framed:
    """A set of builds as it is drawn: ``first`` ones that may set limits, then the ``newest``.

    Between them lie builds that are not drawn; ``first`` is empty where all are. ``known`` holds
    the watched facts of all of them; of builds not drawn only where one of them turned.
    """

    first: tuple[Made, ...]
    newest: ChosenBuilds
    known: dict[int, dict[str, Any]]

    @property
    def chosen(self) -> ChosenBuilds:
        """The first and the newest together."""
        newest = self.newest
        return ChosenBuilds(newest.words, self.first + newest.made, newest.older - len(self.first))


def frame_builds(session: Session, wanted: BuildSet) -> Framed:
    """Look up the newest builds of a set, and the first ones of the stretch they belong to.

    Were limits to rest on the oldest build drawn, they would move with every new one. So they
    rest on the builds after the last marked change, however long ago that was.

    Raises
    ------
    NotFoundError, FieldError
        As for ``choose_builds``.
    """
    chosen = choose_builds(session, wanted)
    names = (*WATCHED, *LEAK_FACTS)
    if not chosen.older:
        return Framed((), chosen, facts_of(session, chosen.numbers, names))
    asked, _ = conditions(session, wanted)
    asked.append(Build.id < chosen.made[0].number)
    known = _turns(session, asked) | facts_of(session, chosen.numbers, names)
    numbers = sorted(known)
    start = 0
    for of_fact in by_fact(marked_changes(numbers, known)):
        before = [change.number for change in of_fact if change.number < chosen.made[0].number]
        start = before[-1] if before else 0
        break
    rows = session.execute(
        made_where(*asked, Build.id >= start).order_by(Build.id).limit(_LOOKED_THROUGH)
    )
    first = tuple(Made(*row) for row in rows)
    for number, facts in facts_of(session, [one.number for one in first], names).items():
        known[number] = known.get(number, {}) | facts
    return Framed(first, chosen, known)


def _turns(session: Session, asked: list[ColumnElement[bool]]) -> dict[int, dict[str, Any]]:
    """The watched facts of these builds, only where one is first known or differs from before."""
    kept = cast(BuildFact.value, String)
    in_order = {"partition_by": BuildFact.name, "order_by": BuildFact.build_id}
    all_known = (
        select(
            BuildFact.build_id,
            BuildFact.name,
            kept.label("kept"),
            func.lag(kept).over(**in_order).label("before"),
        )
        .join(Build, BuildFact.build_id == Build.id)
        .join(Part)
        .where(*asked, BuildFact.name.in_(WATCHED), kept != "null")
        .subquery()
    )
    column = all_known.c
    place = func.row_number().over(partition_by=column.name, order_by=column.build_id)
    turned = (
        select(column.build_id, column.name, column.kept, place.label("place"))
        .where(or_(column.before.is_(None), column.before != column.kept))
        .subquery()
    )
    known: dict[int, dict[str, Any]] = {}
    # One more than the most turns is enough to see that it goes to and fro.
    for number, name, value in session.execute(
        select(turned.c.build_id, turned.c.name, turned.c.kept).where(
            turned.c.place <= MOST_TURNS + 2
        )
    ):
        known.setdefault(number, {})[name] = json.loads(value)
    return known
