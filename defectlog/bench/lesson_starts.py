"""Where lessons were first applied in a series of builds: lines on its chart."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from defectlog.records import Lesson, LessonUse

_LONGEST = 26


@dataclass(frozen=True, slots=True)
class LessonStart:
    """The first build on which one or more lessons were applied, at ``index`` of the series.

    ``short`` fits on a chart, ``words`` tell the lessons in full.
    """

    index: int
    number: int
    lessons: tuple[int, ...]
    short: str
    words: str


def lesson_starts(session: Session, numbers: Sequence[int]) -> tuple[LessonStart, ...]:
    """The lessons first applied on one of these builds, in order of the builds.

    A lesson whose first build is not among them began before, or elsewhere, and is left out.
    """
    first = (
        select(LessonUse.lesson_id, func.min(LessonUse.build_id).label("number"))
        .where(LessonUse.is_applied)
        .group_by(LessonUse.lesson_id)
        .subquery()
    )
    begun: dict[int, list[tuple[int, str]]] = defaultdict(list)
    for number, lesson, words in session.execute(
        select(first.c.number, Lesson.id, Lesson.words)
        .join(Lesson, Lesson.id == first.c.lesson_id)
        .where(first.c.number.in_(numbers))
        .order_by(Lesson.id)
    ):
        begun[number].append((lesson, words))
    return tuple(
        LessonStart(
            index,
            number,
            tuple(lesson for lesson, _ in begun[number]),
            _short([words for _, words in begun[number]]),
            "; ".join(words.rstrip(".") for _, words in begun[number]),
        )
        for index, number in enumerate(numbers)
        if number in begun
    )


def _short(lessons: Sequence[str]) -> str:
    if len(lessons) > 1:
        return f"{len(lessons)} lessons applied"
    words = f"lesson: {lessons[0]}"
    return words if len(words) <= _LONGEST else words[: _LONGEST - 1].rstrip() + "…"
