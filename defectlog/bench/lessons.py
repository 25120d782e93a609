"""Learn: one thing to change, due on the part's next builds, kept or dropped in the end."""

from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from defectlog.bench.builds import find_build
from defectlog.bench.findings import find_finding
from defectlog.errors import DefectlogError, FieldError, FormError, NotFoundError
from defectlog.records import Build, Lesson, LessonState, LessonUse


class LessonNotDueError(DefectlogError):
    """A lesson is applied on builds of its own part, after it was written."""

    def __init__(self, lesson: Lesson, build: Build) -> None:
        super().__init__(
            f"The lesson is not due on build {build.id}",
            f"it is for {lesson.part.name}, on builds after {lesson.finding.build_id}",
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
    session: Session,
    finding_number: int,
    words: str,
    *,
    at: datetime,
    cause: str | None = None,
    state: LessonState = LessonState.ON_TRIAL,
) -> Lesson:
    """From a finding, write the one thing to change on the next builds of that part.

    Lay-up sheets ask for it from then on, unless it is only proposed.
    """
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
        state=state,
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
    """Put a lesson on trial, keep it, drop it with its reason, or take it back to a proposal."""
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
