"""Any result of any set of builds over time: values, limits, signals, and what they say."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy.orm import Session

from defectlog.bench.build_sets import BuildSet, ChosenBuilds, Made
from defectlog.bench.differs import set_apart
from defectlog.bench.first_builds import Framed, frame_builds
from defectlog.bench.leaks import leaked
from defectlog.bench.lesson_starts import LessonStart, lesson_starts
from defectlog.bench.marked_changes import MarkedChange, by_fact, marked_changes
from defectlog.bench.results import BuildValue, Result, ResultValues, result_values
from defectlog.bench.series_beside import Beside, beside
from defectlog.bench.series_limits import (
    Drift,
    Steps,
    baseline_of,
    drift_of,
    phases_of,
    steps_of,
    turn_of,
)
from defectlog.bench.series_remarks import limits_rest_on, series_asides, series_remarks
from defectlog.bench.series_words import BASELINE, Charted, series_sentence, value_words
from defectlog.charts import ControlChart, Phase, stretches


@dataclass(frozen=True, slots=True)
class SeriesPoint:
    """One build of a series.

    ``made`` is None where it has no value. ``differs`` are the facts that set a build outside
    its limits apart from its neighbours, None where that was not looked up; ``runs`` are the
    run rules it completes.
    """

    number: int
    part_id: int
    started_at: datetime
    made: BuildValue | None
    centre: float | None
    lower: float | None
    upper: float | None
    is_outside: bool
    words: str
    runs: tuple[str, ...] = ()
    differs: tuple[str, ...] | None = None


@dataclass(frozen=True, slots=True)
class Series:
    """A result over time and the one sentence that says what it shows.

    ``basis`` says what the limits rest on, ``remarks`` what to look into, ``asides`` how to read
    the chart. ``drift`` and ``steps`` are None where nothing can be said of them. ``beside`` is
    what else changed where the limits begin anew; ``chosen`` are the builds, with or without a
    value, but for the first of a very large set.
    """

    sentence: str
    basis: tuple[str, ...]
    remarks: tuple[str, ...]
    asides: tuple[str, ...]
    charted: Charted
    points: tuple[SeriesPoint, ...]
    lessons: tuple[LessonStart, ...]
    drift: Drift | None
    steps: Steps | None
    chosen: ChosenBuilds
    beside: tuple[Beside, ...]

    @property
    def made(self) -> ResultValues:
        return self.charted.made

    @property
    def result(self) -> Result:
        return self.charted.made.result

    @property
    def values(self) -> tuple[float | None, ...]:
        return self.charted.values

    @property
    def phases(self) -> tuple[Phase, ...]:
        return self.charted.phases

    @property
    def changes(self) -> tuple[MarkedChange, ...]:
        return self.charted.changes

    @property
    def outside(self) -> tuple[SeriesPoint, ...]:
        """The builds outside their limits."""
        return tuple(point for point in self.points if point.is_outside)

    @property
    def runs(self) -> tuple[SeriesPoint, ...]:
        """The builds that complete a run rule."""
        return tuple(point for point in self.points if point.runs)


def result_series(
    session: Session,
    wanted: BuildSet,
    result: Result,
    *,
    surface: str = "",
    kind: str = "",
    run_rules: bool = False,
) -> Series:
    """Chart one result of a set of builds in the order of their numbers.

    Parameters
    ----------
    surface, kind : optional
        As for ``result_values``.
    run_rules : optional
        Also look for runs on one side of the centre line (Western Electric).

    Raises
    ------
    NotFoundError, FieldError
        If the set, or the kind, cannot be.

    Notes
    -----
    Individual values, or rates with room for clustering where things are counted. Limits rest
    on the first 20 values of a stretch, without builds whose bag leaked, and begin anew only at
    marked changes of one fact, the most telling that has enough builds on either side. The other
    changes are marked, and if they do anything it shows as builds outside the limits. Builds are
    ordered by number and not by clock: a wrong clock must not scramble a chart.
    """
    frame = frame_builds(session, wanted)
    chosen = frame.chosen
    made = result_values(session, result, chosen, surface=surface, kind=kind)
    shown, gap = _shown(frame, made)
    numbers = tuple(one.number for one in shown)
    values = tuple(made.values[n].value if n in made.values else None for n in numbers)
    changes = _changes(frame, numbers)
    spans = _spans(values, changes)
    leaks = frozenset(n for n in numbers if leaked(frame.known.get(n, {})))
    upset = {index for index, number in enumerate(numbers) if number in leaks}
    baseline = baseline_of(values, spans, upset)
    turn = turn_of(made, values, spans, baseline)
    charted = Charted(
        made=made,
        builds=chosen.words,
        numbers=numbers,
        values=values,
        phases=phases_of(made, numbers, spans, turn, gap, baseline, run_rules=run_rules),
        changes=changes,
        turn=turn,
        baseline=baseline,
        left_out=frame.newest.older - (gap or 0),
        gap=gap,
        parts=tuple(one.part_id for one in shown) if len({m.part_id for m in shown}) > 1 else (),
        leaks=leaks,
    )
    return Series(
        sentence=series_sentence(charted),
        basis=limits_rest_on(charted),
        remarks=series_remarks(charted),
        asides=series_asides(charted),
        charted=charted,
        points=_points(session, charted, shown, leaks),
        lessons=lesson_starts(session, numbers),
        drift=drift_of(charted, leaks),
        steps=steps_of(charted),
        chosen=frame.newest,
        beside=beside(session, charted, chosen),
    )


def series_table(series: Series) -> list[list[object]]:
    """The numbers behind the chart, a heading row first; fractions 0–1, else as the unit says."""
    heading = (
        "build started result unit value spread low high count size photos inspected_mm2 centre "
        "lower_limit upper_limit outside run_rules moving_average step marked_change lesson"
    )
    changes = {change.number: change.words for change in series.changes}
    lessons = {lesson.number: lesson.words for lesson in series.lessons}
    unit = "fraction" if series.result.factor != 1 else series.result.unit
    rows: list[list[object]] = [list(heading.split())]
    for index, point in enumerate(series.points):
        one = point.made
        rows.append(
            [
                point.number,
                point.started_at.isoformat(),
                series.made.title,
                unit,
                *((one.value, one.spread, one.low, one.high, one.count) if one else (None,) * 5),
                one.size if one and one.count is not None else None,
                *((one.photos, one.inspected_mm2) if one else (0, None)),
                point.centre,
                point.lower,
                point.upper,
                "yes" if point.is_outside else "no",
                "; ".join(point.runs),
                series.drift.values[index] if series.drift else None,
                series.steps.values[index] if series.steps else None,
                changes.get(point.number),
                lessons.get(point.number),
            ]
        )
    return rows


def _shown(frame: Framed, made: ResultValues) -> tuple[list[Made], int | None]:
    """The builds to be drawn, and at which index others are left out.

    Builds before the first value and after the last one are no gap; of the first builds of a
    large set only those are drawn that set the limits.
    """
    with_value = [one for one in frame.first if one.number in made.values][:BASELINE]
    first = [one for one in frame.first if with_value and one.number <= with_value[-1].number]
    if not made.values:
        return [], None
    lowest, highest = min(made.values), max(made.values)
    shown = [one for one in [*first, *frame.newest.made] if lowest <= one.number <= highest]
    drawn = sum(one.number < frame.newest.made[0].number for one in shown)
    is_gap = bool(drawn) and frame.newest.older > drawn
    return shown, drawn if is_gap else None


def _changes(frame: Framed, numbers: Sequence[int]) -> tuple[MarkedChange, ...]:
    """The marked changes at these builds, found among all builds of the set."""
    place = {number: index for index, number in enumerate(numbers)}
    if not numbers:
        return ()
    # Of a set drawn whole, what came before the first value is no matter.
    everyone = sorted({*frame.known, *numbers}) if frame.first else numbers
    found = marked_changes(everyone, frame.known)
    return tuple(
        MarkedChange(
            place[one.number], one.number, one.last_before, one.facts, one.short, one.words
        )
        for one in found
        if one.number in place
    )


def _spans(
    values: Sequence[float | None], changes: Sequence[MarkedChange]
) -> tuple[tuple[int, int], ...]:
    """The stretches with limits of their own."""
    for of_fact in by_fact(changes):
        spans = stretches(values, [change.index for change in of_fact])
        if len(spans) > 1:
            return spans
    return stretches(values)


def _points(
    session: Session, charted: Charted, shown: Sequence[Made], leaks: frozenset[int]
) -> tuple[SeriesPoint, ...]:
    outside = [
        phase.start + inside
        for phase in charted.phases
        if phase.chart
        for inside in range(phase.stop - phase.start)
        if phase.chart.is_outside(inside)
    ]
    differs = set_apart(session, charted, shown, outside, leaks)
    points = []
    for phase in charted.phases:
        for index in range(phase.start, phase.stop):
            inside, chart = index - phase.start, phase.chart
            number = charted.numbers[index]
            limits = chart.limits_at(inside) if chart else None
            is_outside = index in outside
            words = value_words(charted.made, number, limits, is_outside)
            points.append(
                SeriesPoint(
                    number=number,
                    part_id=shown[index].part_id,
                    started_at=shown[index].started_at,
                    made=charted.made.values.get(number),
                    centre=chart.centre if chart else None,
                    lower=limits[0] if limits else None,
                    upper=limits[1] if limits else None,
                    is_outside=is_outside,
                    words=words + ("; the bag leaked" if number in leaks else ""),
                    runs=_runs(chart, inside),
                    differs=differs.get(index),
                )
            )
    return tuple(points)


def _runs(chart: ControlChart | None, index: int) -> tuple[str, ...]:
    if chart is None:
        return ()
    return tuple(s.words for s in chart.signals if s.index == index and s.rule != "limit")
