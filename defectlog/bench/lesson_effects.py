"""Whether a lesson helped: its kind on builds before it, with it and without it."""

import math
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session, selectinload

from defectlog.charts.intervals import RateRatio, rate_ratio, wilson
from defectlog.records import Build, Lesson
from defectlog.units import figure, percent_range, plural

# Below this a lesson has hardly had a chance to show what it does.
LEAST_BUILDS = 3


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

    @property
    def ratio(self) -> RateRatio | None:
        """How many times as often the kind comes up a build with the lesson as before it."""
        if not self.applied.builds or not self.before.builds or not self.before.findings:
            return None
        return rate_ratio(
            self.applied.findings, self.applied.builds, self.before.findings, self.before.builds
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

    build: Build
    answer: str
    came_back: bool | None


def lesson_effect(session: Session, lesson: Lesson) -> Effect:
    """Count on which builds the lesson's kind was found: before, with it, and without it.

    Only builds that were photographed count: nobody looked at the others.
    """
    builds = _builds(session, lesson)
    kind = lesson.finding.kind
    uses = {use.build_id: use.is_applied for use in lesson.uses}
    before = [b for b in builds if b.id <= lesson.finding.build_id]
    return Effect(
        before=_share(before, kind),
        applied=_share([b for b in builds if uses.get(b.id) is True], kind),
        skipped=_share([b for b in builds if uses.get(b.id) is False], kind),
    )


def due_builds(session: Session, lesson: Lesson) -> tuple[LessonBuild, ...]:
    """The builds the lesson was due on, oldest first, with what was said and what was found.

    While it is only proposed, or once it is dropped, builds that said nothing were not asked.
    """
    uses = {use.build_id: use.is_applied for use in lesson.uses}
    rows = []
    for build in _builds(session, lesson):
        if build.id in uses:
            answer = "applied" if uses[build.id] else "skipped"
        elif lesson.is_active and build.id > lesson.finding.build_id:
            answer = "not said yet"
        else:
            continue
        seen = _count(build, lesson.finding.kind) > 0 if build.photos else None
        rows.append(LessonBuild(build, answer, seen))
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


def _builds(session: Session, lesson: Lesson) -> list[Build]:
    return list(
        session.scalars(
            select(Build)
            .where(Build.part_id == lesson.part_id)
            .order_by(Build.id)
            .options(selectinload(Build.photos), selectinload(Build.findings))
        )
    )


def _share(builds: list[Build], kind: str) -> Share:
    counts = [_count(build, kind) for build in builds if build.photos]
    return Share(sum(count > 0 for count in counts), len(counts), sum(counts))


def _count(build: Build, kind: str) -> int:
    return sum(finding.kind == kind for finding in build.findings)
