"""Whether a lesson helped: its kind on builds before it, with it and without it."""

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy import exists, func, select
from sqlalchemy.orm import Session

from defectlog.charts.dispersion import excess_variance
from defectlog.charts.intervals import RateRatio, rate_ratio, wilson
from defectlog.records import Build, Finding, Lesson, LessonUse, Photo
from defectlog.units import figure, percent_range, plural

# Below this a lesson has hardly had a chance to show what it does.
LEAST_BUILDS = 3
# An interval up to more times as often than this tells a maker nothing.
_SAYS_NOTHING = 10


@dataclass(frozen=True, slots=True)
class Share:
    """On how many of some builds the kind was found, and how many findings that were."""

    found: int
    builds: int
    findings: int = 0

    @property
    def words(self) -> str:
        if not self.builds:
            return "no build yet"
        ends = wilson(self.found, self.builds)
        words = f"{self.found} of {plural(self.builds, 'build')}"
        return words if ends is None else f"{words} (95 % interval {percent_range(*ends)})"


@dataclass(frozen=True, slots=True)
class Effect:
    """How often the lesson's kind was found before it, and on builds with and without it."""

    before: Share
    applied: Share
    skipped: Share
    # How many times as much builds differ as chance alone would have it; widens the interval.
    excess: float = 1.0

    @property
    def ratio(self) -> RateRatio | None:
        """How many times as often the kind comes up a build with the lesson as before it."""
        if not self.applied.builds or not self.before.builds or not self.before.findings:
            return None
        return rate_ratio(
            self.applied.findings,
            self.applied.builds,
            self.before.findings,
            self.before.builds,
            excess=self.excess,
            freedom=max(1, self.before.builds + self.applied.builds - 2),
            mid=True,
        )

    @property
    def words(self) -> str:
        if not self.applied.builds:
            return (
                f"Not applied yet. Up to the build it came from, the kind was found on "
                f"{self.before.words}."
            )
        back = "did not come back" if self.applied.found == 0 else "came back"
        return (
            f"With the lesson applied the kind {back}: found on {self.applied.words}. "
            f"Up to the build it came from: {self.before.words}."
        )

    @property
    def change_words(self) -> str:
        """The rate with the lesson against that before, with its interval; empty before any."""
        ratio = self.ratio
        if ratio is None or ratio.ratio is None:
            return ""
        if not self.applied.findings:
            return f"{_not_seen(self.applied, ratio)}. Before: {_rate(self.before)}."
        if ratio.low <= 1 and ratio.high > _SAYS_NOTHING:
            return (
                f"{_rate(self.applied)} with the lesson, {_rate(self.before)} before: too few yet "
                "to say whether it comes up more or less often."
            )
        rates = (
            f"{_rate(self.applied)} with the lesson, {_rate(self.before)} before: "
            f"{figure(ratio.ratio, 2)} times as often, 95 % interval {figure(ratio.low, 2)} to "
            f"{'any number' if math.isinf(ratio.high) else figure(ratio.high, 2)}"
        )
        if ratio.high < 1:
            return f"{rates}: it comes up less often."
        if ratio.low > 1:
            return f"{rates}: it comes up more often."
        return f"{rates}, which still allows for no change."

    @property
    def has_not_helped(self) -> bool:
        """Whether, over enough builds, the kind comes up no less often than before."""
        ratio = self.ratio
        if ratio is None or ratio.ratio is None or self.applied.builds < LEAST_BUILDS:
            return False
        return ratio.ratio >= 1


def _not_seen(applied: Share, ratio: RateRatio) -> str:
    """None at all with the lesson: how often it could come up nevertheless."""
    words = f"Not seen on {plural(applied.builds, 'build')} with the lesson"
    if ratio.high > _SAYS_NOTHING:
        return f"{words}, too few yet to say how often it could still come up"
    most = f"{figure(ratio.high, 2)} times as often as before (95 % interval)"
    if ratio.high < 1:
        return f"{words}: it comes up less often, at most {most}"
    return f"{words}; with this few it could still be up to {most}"


def _rate(share: Share) -> str:
    each = figure(share.findings / share.builds, 2)
    return (
        f"{plural(share.findings, 'finding')} on {plural(share.builds, 'build')} ({each} a build)"
    )


@dataclass(frozen=True, slots=True)
class LessonBuild:
    """One build a lesson was due on: ``answer`` applied, skipped or not said yet.

    ``came_back`` is None where nobody has photographed the build.
    """

    number: int
    answer: str
    came_back: bool | None


@dataclass(frozen=True, slots=True)
class Looked:
    """What was found on the builds of some parts, as far as their lessons ask.

    ``builds`` are by part, in the order of their numbers; ``counts`` the findings by build and
    kind; ``uses`` what was said of a lesson on a build, by lesson.
    """

    builds: Mapping[int, Sequence[int]]
    photographed: frozenset[int]
    counts: Mapping[tuple[int, str], int]
    uses: Mapping[int, Mapping[int, bool]]


def look_over(session: Session, lessons: Iterable[Lesson]) -> Looked:
    """Count once for all these lessons: a board asks of the same builds again and again."""
    asked = list(lessons)
    parts = {lesson.part_id for lesson in asked}
    builds: dict[int, list[int]] = {part: [] for part in parts}
    photographed = set()
    has_photo = exists().where(Photo.build_id == Build.id, Photo.deleted_at.is_(None))
    for number, part, was_seen in session.execute(
        select(Build.id, Build.part_id, has_photo).where(Build.part_id.in_(parts))
    ):
        builds[part].append(number)
        if was_seen:
            photographed.add(number)
    counts = session.execute(
        select(Finding.build_id, Finding.kind, func.count())
        .join(Build, Finding.build_id == Build.id)
        .where(
            Build.part_id.in_(parts),
            Finding.kind.in_({lesson.finding.kind for lesson in asked}),
            Finding.deleted_at.is_(None),
        )
        .group_by(Finding.build_id, Finding.kind)
    )
    uses: dict[int, dict[int, bool]] = defaultdict(dict)
    for lesson, build, is_applied in session.execute(
        select(LessonUse.lesson_id, LessonUse.build_id, LessonUse.is_applied).where(
            LessonUse.lesson_id.in_([lesson.id for lesson in asked])
        )
    ):
        uses[lesson][build] = is_applied
    return Looked(
        {part: sorted(numbers) for part, numbers in builds.items()},
        frozenset(photographed),
        {(build, kind): number for build, kind, number in counts},
        uses,
    )


def lesson_effect(session: Session, lesson: Lesson, looked: Looked | None = None) -> Effect:
    """Count on which builds the lesson's kind was found: before, with it, and without it.

    Only builds that were photographed count: nobody looked at the others. ``looked`` spares
    asking again where several lessons are told.
    """
    seen = looked or look_over(session, [lesson])
    kind = lesson.finding.kind
    uses = seen.uses.get(lesson.id, {})
    own = [number for number in seen.builds[lesson.part_id] if number in seen.photographed]

    def counts(numbers: Iterable[int]) -> list[int]:
        return [seen.counts.get((number, kind), 0) for number in numbers]

    before = counts(number for number in own if number <= lesson.finding.build_id)
    applied = counts(number for number in own if uses.get(number) is True)
    skipped = counts(number for number in own if uses.get(number) is False)
    return Effect(
        before=_share(before),
        applied=_share(applied),
        skipped=_share(skipped),
        excess=excess_variance([before, applied]),
    )


def _share(counts: Sequence[int]) -> Share:
    return Share(sum(count > 0 for count in counts), len(counts), sum(counts))


def due_builds(
    session: Session, lesson: Lesson, looked: Looked | None = None
) -> tuple[LessonBuild, ...]:
    """The builds the lesson was due on, oldest first, with what was said and what was found.

    While it is only proposed, or once it is dropped, builds that said nothing were not asked.
    """
    seen = looked or look_over(session, [lesson])
    uses = seen.uses.get(lesson.id, {})
    rows = []
    for number in seen.builds[lesson.part_id]:
        if number in uses:
            answer = "applied" if uses[number] else "skipped"
        elif lesson.is_active and number > lesson.finding.build_id:
            answer = "not said yet"
        else:
            continue
        found = seen.counts.get((number, lesson.finding.kind), 0) > 0
        rows.append(LessonBuild(number, answer, found if number in seen.photographed else None))
    return tuple(rows)


def due_words(rows: tuple[LessonBuild, ...]) -> str:
    """``Due on 6 builds: applied on 4, skipped on 1, not said yet on 1.``"""
    if not rows:
        return "Not due on any build yet."
    answers = [row.answer for row in rows]
    counts = (
        f"{answer} on {answers.count(answer)}"
        for answer in ("applied", "skipped", "not said yet")
        if answer in answers
    )
    return f"Due on {plural(len(rows), 'build')}: {', '.join(counts)}."
