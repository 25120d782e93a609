"""What a part's builds say over time: voids from build to build, findings by kind."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from defectlog.bench.kinds import names_of
from defectlog.bench.leaks import LEAK_FACTS, leaked
from defectlog.bench.marked_changes import WATCHED, MarkedChange, by_fact, marked_changes
from defectlog.bench.parts import find_part
from defectlog.bench.surface_voids import Surface, SurfaceVoids, choose_surface, surface_voids
from defectlog.bench.trend_words import (
    asides,
    finding_sentence,
    point_words,
    remarks,
    void_sentence,
)
from defectlog.charts import ParetoBar, Phase, individuals_by_phase, pareto
from defectlog.records import Build, BuildFact, Finding, Part


@dataclass(frozen=True, slots=True)
class PartChoice:
    """A part to look at, and how many builds it has."""

    id: int
    name: str
    builds: int


@dataclass(frozen=True, slots=True)
class VoidPoint:
    """One build of the series; ``voids`` is None where the surface was not measured.

    Centre and limits are fractions 0–1, None while there are too few builds for them.
    """

    number: int
    started_at: datetime
    voids: SurfaceVoids | None
    centre: float | None
    lower: float | None
    upper: float | None
    is_outside: bool
    words: str


@dataclass(frozen=True, slots=True)
class VoidTrend:
    """Void fraction by build, and the one sentence that says what it shows.

    ``surface`` is None when nothing was measured. ``others`` are the surfaces that were measured
    too, ``remarks`` what to look into, ``asides`` how to read the chart, ``newest`` the number of
    the newest build, if there is one.
    """

    sentence: str
    remarks: tuple[str, ...]
    asides: tuple[str, ...]
    surface: Surface | None
    others: tuple[Surface, ...]
    points: tuple[VoidPoint, ...]
    phases: tuple[Phase, ...]
    changes: tuple[MarkedChange, ...]
    newest: int | None

    @property
    def outside(self) -> tuple[VoidPoint, ...]:
        """The builds outside their limits."""
        return tuple(point for point in self.points if point.is_outside)


@dataclass(frozen=True, slots=True)
class FindingTrend:
    """Findings of a part by kind, most frequent first, and the sentence above them."""

    sentence: str
    bars: tuple[ParetoBar, ...]
    total: int
    builds: int


def part_choices(session: Session) -> tuple[PartChoice, ...]:
    """Every part with how many builds it has, most builds first."""
    number = func.count(Build.id)
    rows = session.execute(
        select(Part.id, Part.name, number)
        .outerjoin(Build, Build.part_id == Part.id)
        .group_by(Part.id, Part.name)
        .order_by(number.desc(), func.lower(Part.name))
    )
    return tuple(PartChoice(*row) for row in rows)


def void_trend(session: Session, part_id: int, *, surface: str = "") -> VoidTrend:
    """Void fraction of a part's builds in the order of their numbers.

    Parameters
    ----------
    surface : key of a ``Surface``, optional
        Which one to look at, if there are several.

    Notes
    -----
    Limits are those of individual values, recomputed only at marked changes of one fact, the
    most telling that has enough builds on either side. The other changes are marked, and if
    they do anything it shows as builds outside the limits. Builds are ordered by number and
    not by clock: a wrong clock must not scramble a chart.
    """
    part = find_part(session, part_id)
    measured = surface_voids(session, part_id)
    chosen = choose_surface(measured, surface)
    builds = session.execute(
        select(Build.id, Build.started_at).where(Build.part_id == part_id).order_by(Build.id)
    ).all()
    if chosen is None:
        newest = builds[-1].id if builds else None
        words = void_sentence(part.name, None, (), (), ())
        return VoidTrend(words, (), (), None, (), (), (), (), newest)

    voids = measured[chosen]
    # From the first build measured to the last: builds not yet demoulded are no gap.
    series = [row for row in builds if min(voids) <= row.id <= max(voids)]
    numbers = [row.id for row in series]
    values = [voids[number].value if number in voids else None for number in numbers]
    known = _facts(session, part_id)
    leaks = frozenset(number for number in numbers if leaked(known.get(number, {})))
    changes = marked_changes(numbers, known)
    phases = _phases(values, changes)
    return VoidTrend(
        sentence=void_sentence(part.name, chosen, values, phases, changes),
        remarks=remarks(numbers, values, phases, changes, leaks),
        asides=asides(chosen, [voids.get(number) for number in numbers], phases),
        surface=chosen,
        others=tuple(other for other in measured if other != chosen),
        points=_points(series, voids, phases, leaks),
        phases=phases,
        changes=changes,
        newest=builds[-1].id,
    )


def finding_trend(session: Session, part_id: int) -> FindingTrend:
    """Findings of a part counted by kind, whatever became of them."""
    part = find_part(session, part_id)
    rows = session.execute(
        select(Finding.kind, func.count().label("number"))
        .join(Build, Finding.build_id == Build.id)
        .where(Build.part_id == part_id, Finding.deleted_at.is_(None))
        .group_by(Finding.kind)
    )
    counts = {row.kind: row.number for row in rows}
    builds = session.scalar(select(func.count(Build.id)).where(Build.part_id == part_id)) or 0
    bars = pareto(counts)
    return FindingTrend(
        finding_sentence(part.name, bars, builds, names_of(session)),
        bars,
        sum(counts.values()),
        builds,
    )


def findings_of_kind(session: Session, part_id: int, kind: str) -> list[Finding]:
    """The findings behind one bar, newest first."""
    find_part(session, part_id)
    return list(
        session.scalars(
            select(Finding)
            .join(Build, Finding.build_id == Build.id)
            .where(Build.part_id == part_id, Finding.kind == kind, Finding.deleted_at.is_(None))
            .order_by(Finding.id.desc())
        )
    )


def void_table(trend: VoidTrend) -> list[list[object]]:
    """The numbers behind the chart of voids, a heading row first; fractions 0–1."""
    short = {change.number: change.words for change in trend.changes}
    heading = (
        "build started surface photos inspected_mm2 void_fraction void_fraction_low "
        "void_fraction_high centre lower_limit upper_limit outside marked_change"
    )
    rows: list[list[object]] = [list(heading.split())]
    for point in trend.points:
        made = point.voids
        rows.append(
            [
                point.number,
                point.started_at.isoformat(),
                trend.surface.words if trend.surface else None,
                *(
                    (made.photos, made.inspected_mm2, made.value, made.low, made.high)
                    if made
                    else (0, None, None, None, None)
                ),
                point.centre,
                point.lower,
                point.upper,
                "yes" if point.is_outside else "no",
                short.get(point.number),
            ]
        )
    return rows


def finding_table(trend: FindingTrend) -> list[list[object]]:
    """The numbers behind the bars, a heading row first; shares 0–1."""
    heading = ["kind", "count", "share", "share_low", "share_high", "running_share"]
    return [heading] + [
        [bar.key, bar.count, bar.share, bar.low, bar.high, bar.running] for bar in trend.bars
    ]


def _facts(session: Session, part_id: int) -> dict[int, dict[str, Any]]:
    known: dict[int, dict[str, Any]] = {}
    rows = session.execute(
        select(BuildFact.build_id, BuildFact.name, BuildFact.value)
        .join(Build, BuildFact.build_id == Build.id)
        .where(Build.part_id == part_id, BuildFact.name.in_((*WATCHED, *LEAK_FACTS)))
    )
    for number, name, value in rows:
        known.setdefault(number, {})[name] = value
    return known


def _phases(values: Sequence[float | None], changes: Sequence[MarkedChange]) -> tuple[Phase, ...]:
    for of_fact in by_fact(changes):
        phases = individuals_by_phase(values, [change.index for change in of_fact], lowest=0.0)
        if len(phases) > 1:
            return phases
    return individuals_by_phase(values, lowest=0.0)


def _points(
    series: Sequence[Any],
    voids: dict[int, SurfaceVoids],
    phases: Sequence[Phase],
    leaks: frozenset[int],
) -> tuple[VoidPoint, ...]:
    points = []
    for phase in phases:
        for index in range(phase.start, phase.stop):
            number, started_at = series[index]
            chart, inside = phase.chart, index - phase.start
            limits = chart.limits_at(inside) if chart else None
            is_outside = chart.is_outside(inside) if chart else False
            made = voids.get(number)
            points.append(
                VoidPoint(
                    number=number,
                    started_at=started_at,
                    voids=made,
                    centre=chart.centre if chart else None,
                    lower=limits[0] if limits else None,
                    upper=limits[1] if limits else None,
                    is_outside=is_outside,
                    words=point_words(made, limits, is_outside, number in leaks),
                )
            )
    return tuple(points)
