"""What a trial can be judged by: one figure for each build, and how it is written out."""

import math
from collections.abc import Callable, Collection
from dataclasses import dataclass, replace

from sqlalchemy import select
from sqlalchemy.orm import Session

from defectlog.bench.build_sets import (
    MOST_BUILDS,
    BuildSet,
    ChosenBuilds,
    Made,
    choose_builds,
    made_where,
)
from defectlog.bench.results import RESULTS, BuildValue, result_values
from defectlog.bench.surface_voids import SURFACES, Surface
from defectlog.records import Build, BuildFact, Face, PhotoStage, TrialResult
from defectlog.units import MINUS, NBSP, figure, measured_percent, with_unit

TOOL_AT_DEMOULD = Surface(Face.TOOL, PhotoStage.DEMOULD)


@dataclass(frozen=True, slots=True)
class Measure:
    """How a result is spoken of.

    ``title`` names it in a list, ``noun`` stands in a sentence, ``unit`` is that of differences,
    and ``factor`` turns the kept value into it. ``waits_for`` says when a panel's value counts
    (of a surface still without its name: see ``measure_on``), ``key`` which row of ``RESULTS`` it
    is. ``counted_on`` is what things were counted on, with a place for how much: such a result is
    a rate, and has its own arithmetic.
    """

    key: str
    title: str
    noun: str
    unit: str
    factor: float
    write: Callable[[float], str]
    waits_for: str
    counted_on: str = ""

    @property
    def is_counted(self) -> bool:
        return bool(self.counted_on)

    def difference(self, value: float) -> str:
        """The size of a difference with its unit."""
        return with_unit(abs(self.factor * value), self.unit, 2)

    def between(self, low: float, high: float) -> str:
        """The interval of a difference: ``0.05 to 0.37 points``."""
        largest = self.factor * max(abs(low), abs(high))
        places = 0 if largest == 0 else max(0, 1 - math.floor(math.log10(largest)))
        ends = f"{self.factor * low:.{places}f} to {self.factor * high:.{places}f}"
        return f"{ends}{NBSP}{self.unit}".replace("-", MINUS)


def _in(unit: str, digits: int = 3) -> Callable[[float], str]:
    return lambda value: with_unit(value, unit, digits)


_MEASURED = "its {} is measured"
MEASURES = {
    TrialResult.VOIDS: Measure(
        "voids",
        "void fraction",
        "void fraction",
        "points",
        100,
        measured_percent,
        _MEASURED,
    ),
    TrialResult.PINHOLES: Measure(
        "pinholes",
        "pinholes per area",
        "rate of pinholes",
        "per dm²",
        1,
        _in("per dm²", 2),
        f"{_MEASURED} on a photo with a scale",
        counted_on="{} dm² each",
    ),
    TrialResult.LARGEST: Measure(
        "largest",
        "largest void",
        "largest void",
        "mm",
        1,
        _in("mm", 2),
        f"{_MEASURED} on a photo with a scale",
    ),
    TrialResult.FINDINGS: Measure(
        "findings",
        "findings",
        "number of findings",
        "a panel",
        1,
        lambda value: f"{figure(value, 2)} a panel",
        "it is photographed and released",
        counted_on="a panel",
    ),
    TrialResult.MASS: Measure(
        "mass", "mass", "mass", "g", 1, _in("g", 4), "its mass is written down"
    ),
    TrialResult.RESIN_LEFT: Measure(
        "resin-left",
        "resin left over",
        "resin left over",
        "g",
        1,
        _in("g"),
        "the resin left over is written down",
    ),
    TrialResult.EFFORT: Measure(
        "effort",
        "working time",
        "working time",
        "min",
        1,
        _in("min"),
        "its working time is written down",
    ),
    TrialResult.REWORK: Measure(
        "rework",
        "rework time",
        "rework time",
        "min",
        1,
        _in("min"),
        "it is photographed and released, with the minutes beside each of its fixes",
    ),
}
# Every surface that can be judged, the one that most trials ask of first.
JUDGED = {surface.key: surface for surface in SURFACES}


def measure_on(result: TrialResult, surface: str) -> Measure:
    """How a result is spoken of, the surface named where it is measured on one."""
    measure = MEASURES[result]
    if not RESULTS[measure.key].of_surface:
        return measure
    words = JUDGED.get(surface, TOOL_AT_DEMOULD).words
    return replace(
        measure,
        title=f"{measure.title}, {words}",
        waits_for=measure.waits_for.format(words),
    )


# Before a build is released more may be found on it, or mended.
_ONCE_RELEASED = {TrialResult.FINDINGS, TrialResult.REWORK}


def panel_values(
    session: Session,
    part_id: int,
    result: TrialResult,
    kind: str | None = None,
    *,
    surface: str = TOOL_AT_DEMOULD.key,
    builds: Collection[int] | None = None,
) -> dict[int, BuildValue]:
    """The result of the builds of a part that have one, by number: of its newest 200.

    With ``builds`` of these: a trial need not ask after all the others. Counts come with what
    they were counted on.
    """
    chosen = _chosen(session, part_id, builds)
    if result is TrialResult.MASS:
        # Panels of one part need no target to be held against.
        return _masses(session, chosen)
    made = result_values(
        session,
        RESULTS[MEASURES[result].key],
        chosen,
        surface=surface,
        kind=kind or "",
    )
    if made.surface is not None and made.surface.key != surface:
        return {}
    values = dict(made.values)
    if result in _ONCE_RELEASED:
        released = session.scalars(
            select(Build.id).where(Build.id.in_(values), Build.released_at.is_not(None))
        )
        values = {number: values[number] for number in sorted(released)}
    return values


def _chosen(session: Session, part_id: int, builds: Collection[int] | None) -> ChosenBuilds:
    if builds is None:
        return choose_builds(session, BuildSet(part=part_id), most=MOST_BUILDS)
    rows = session.execute(made_where(Build.id.in_(builds)).order_by(Build.id))
    return ChosenBuilds("", tuple(Made(*row) for row in rows), 0)


def _masses(session: Session, chosen: ChosenBuilds) -> dict[int, BuildValue]:
    rows = session.execute(
        select(BuildFact.build_id, BuildFact.value).where(
            BuildFact.build_id.in_(chosen.numbers), BuildFact.name == "mass_g"
        )
    )
    return {number: BuildValue(float(value)) for number, value in rows if value is not None}
