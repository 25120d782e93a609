"""What a trial can be judged by: one figure for each build, and how it is written out."""

import math
from collections.abc import Callable, Collection
from dataclasses import dataclass

from sqlalchemy import ColumnElement, func, select
from sqlalchemy.orm import Session

from defectlog.bench.surface_voids import Surface, voids_by_surface
from defectlog.records import Build, BuildFact, Face, Finding, PhotoStage, TrialResult
from defectlog.units import MINUS, NBSP, figure, measured_percent, with_unit

TOOL_AT_DEMOULD = Surface(Face.TOOL, PhotoStage.DEMOULD)


@dataclass(frozen=True, slots=True)
class Measure:
    """How a result is spoken of.

    ``noun`` stands in a sentence, ``unit`` is that of differences, and ``factor`` turns
    the kept value into it. ``waits_for`` says when a panel's value counts.
    """

    noun: str
    unit: str
    factor: float
    write: Callable[[float], str]
    waits_for: str

    def difference(self, value: float) -> str:
        """The size of a difference with its unit."""
        return with_unit(abs(self.factor * value), self.unit, 2)

    def between(self, low: float, high: float) -> str:
        """The interval of a difference: ``0.05 to 0.37 points``."""
        largest = self.factor * max(abs(low), abs(high))
        places = 0 if largest == 0 else max(0, 1 - math.floor(math.log10(largest)))
        ends = f"{self.factor * low:.{places}f} to {self.factor * high:.{places}f}"
        return f"{ends}{NBSP}{self.unit}".replace("-", MINUS)


MEASURES = {
    TrialResult.VOIDS: Measure(
        "void fraction", "points", 100, measured_percent, "its tool side is measured at demould"
    ),
    TrialResult.MASS: Measure(
        "mass", "g", 1, lambda value: with_unit(value, "g", 4), "its mass is written down"
    ),
    TrialResult.EFFORT: Measure(
        "working time",
        "min",
        1,
        lambda value: with_unit(value, "min", 3),
        "its working time is written down",
    ),
    TrialResult.FINDINGS: Measure(
        "number of findings",
        "a panel",
        1,
        lambda value: f"{figure(value, 2)} a panel",
        "it is photographed and released",
    ),
}


def values_of(
    session: Session,
    part_id: int,
    result: TrialResult,
    kind: str | None = None,
    *,
    builds: Collection[int] | None = None,
) -> dict[int, float]:
    """The result of every build of a part that has one, by number of the build.

    With ``builds`` only of these: a trial need not ask after all the others.

    Findings count only once a build was photographed and released: before that some may be
    still to come.
    """
    asked = Build.part_id == part_id if builds is None else Build.id.in_(builds)
    if result is TrialResult.VOIDS:
        measured = voids_by_surface(session, asked).get(TOOL_AT_DEMOULD, {})
        return {number: voids.value for number, voids in measured.items()}
    if result is TrialResult.FINDINGS:
        return _findings(session, asked, kind or "")
    return _fact_values(session, asked, "mass_g" if result is TrialResult.MASS else "effort_min")


def _fact_values(session: Session, asked: ColumnElement[bool], name: str) -> dict[int, float]:
    rows = session.execute(
        select(BuildFact.build_id, BuildFact.value)
        .join(Build, BuildFact.build_id == Build.id)
        .where(asked, BuildFact.name == name)
    )
    return {number: float(value) for number, value in rows if value is not None}


def _findings(session: Session, asked: ColumnElement[bool], kind: str) -> dict[int, float]:
    looked_at = session.scalars(
        select(Build.id).where(asked, Build.released_at.is_not(None), Build.photos.any())
    )
    rows = session.execute(
        select(Finding.build_id, func.count())
        .join(Build, Finding.build_id == Build.id)
        .where(asked, Finding.kind == kind, Finding.deleted_at.is_(None))
        .group_by(Finding.build_id)
    )
    counts = {row[0]: row[1] for row in rows}
    return {number: float(counts.get(number, 0)) for number in looked_at}
