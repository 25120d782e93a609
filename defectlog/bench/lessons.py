"""Learn: one thing to change, due on the part's next builds, and whether the kind came back."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from defectlog.bench.builds import find_build
from defectlog.bench.findings import find_finding
from defectlog.charts.intervals import wilson
from defectlog.errors import DefectlogError, FieldError, FormError, NotFoundError
from defectlog.records import Build, Finding, Lesson, LessonState, LessonUse
from defectlog.units import percent_range, plural


class LessonNotDueError(DefectlogError):
    """A lesson is applied on builds of its own part, after it was written."""

    def __init__(self, lesson: Lesson, build: Build) -> None:
        super().__init__(
            f"The lesson is not due on build {build.id}",
            f"it is for {lesson.part.name}, on builds after {lesson.finding.build_id}",
        )


@dataclass(frozen=True, slots=True)
class Share:
    """On how many of some builds the kind was found."""

    found: int
    builds: int

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


def find_lesson(session: Session, number: int) -> Lesson:
    """The lesson of that number."""
    lesson = session.get(Lesson, number)
    if lesson is None:
        raise NotFoundError("lesson", number)
    return lesson


def list_lessons(session: Session) -> list[Lesson]:
    """The lessons, newest first."""
    return list(session.scalars(select(Lesson).order_by(Lesson.id.desc())))


def write_lesson(
    session: Session, finding_number: int, words: str, *, at: datetime, cause: str | None = None
) -> Lesson:
    """From a finding, write the one thing to change on the next builds of that part."""
    finding = find_finding(session, finding_number)
    words = words.strip()
    if not words:
        raise FormError(
            [FieldError("words", "The lesson says nothing yet", "write the one thing to change")]
        )
    if len(words) > 300:
        raise FormError(
            [FieldError("words", "A lesson has room for 300 characters", "keep to one change")]
        )
    lesson = Lesson(
        part_id=finding.build.part_id,
        finding=finding,
        cause=cause or finding.confirmed_cause,
        words=words,
        written_at=at,
    )
    session.add(lesson)
    session.flush()
    return lesson


def lessons_for(session: Session, build: Build) -> list[tuple[Lesson, LessonUse | None]]:
    """The lessons that belong on a build's lay-up sheet, with what was said of each."""
    used = {use.lesson_id: use for use in build.lesson_uses}
    lessons = session.scalars(
        select(Lesson).where(Lesson.part_id == build.part_id).order_by(Lesson.id)
    )
    return [
        (lesson, used.get(lesson.id))
        for lesson in lessons
        if lesson.id in used or (lesson.is_active and is_due(lesson, build))
    ]


def is_due(lesson: Lesson, build: Build) -> bool:
    """Whether a build is of the lesson's part and comes after the one it was learnt on."""
    return build.part_id == lesson.part_id and build.id > lesson.finding.build_id


def use_lesson(
    session: Session, lesson_number: int, build_number: int, is_applied: bool, at: datetime
) -> LessonUse:
    """Say whether a lesson was applied or skipped on a build; the later word stands."""
    lesson, build = find_lesson(session, lesson_number), find_build(session, build_number)
    if not is_due(lesson, build):
        raise LessonNotDueError(lesson, build)
    use = next((use for use in lesson.uses if use.build_id == build.id), None)
    if use is None:
        use = LessonUse(build=build)
        lesson.uses.append(use)
    use.is_applied, use.at = is_applied, at
    session.flush()
    return use


def set_lesson_state(
    session: Session, number: int, state: LessonState, *, reason: str = ""
) -> Lesson:
    """Keep a lesson, drop it with its reason, or put it on trial again."""
    lesson = find_lesson(session, number)
    reason = reason.strip()
    if state is LessonState.DROPPED and not reason:
        raise FormError(
            [
                FieldError(
                    "reason",
                    "A lesson is dropped for a reason",
                    "write what the builds showed, so that nobody tries it again unknowing",
                )
            ]
        )
    lesson.state, lesson.reason = state, reason
    return lesson


def lesson_effect(session: Session, lesson: Lesson) -> Effect:
    """Count on which builds the lesson's kind was found: before, with it, and without it.

    Only builds that were photographed count: nobody looked at the others.
    """
    builds = session.scalars(
        select(Build).where(Build.part_id == lesson.part_id).order_by(Build.id)
    ).all()
    kind = lesson.finding.kind
    uses = {use.build_id: use.is_applied for use in lesson.uses}
    before = [b for b in builds if b.id <= lesson.finding.build_id]
    return Effect(
        before=_share(before, kind),
        applied=_share([b for b in builds if uses.get(b.id) is True], kind),
        skipped=_share([b for b in builds if uses.get(b.id) is False], kind),
    )


def _share(builds: list[Build], kind: str) -> Share:
    looked_at = [build for build in builds if build.photos]
    return Share(sum(_has(build, kind) for build in looked_at), len(looked_at))


def _has(build: Build, kind: str) -> bool:
    found: list[Finding] = build.findings
    return any(finding.kind == kind for finding in found)
