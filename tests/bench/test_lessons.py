"""A lesson is due on the part's next builds and says whether its kind came back."""

import pytest
from sqlalchemy.orm import Session

from defectlog.bench.lessons import (
    LessonNotDueError,
    lesson_effect,
    lessons_for,
    set_lesson_state,
    use_lesson,
    write_lesson,
)
from defectlog.bench.overview import overview
from defectlog.errors import FormError
from defectlog.records import LessonState
from tests.builders import NOON, make_build, make_finding, make_part, make_photo


@pytest.fixture
def part(session: Session):
    return make_part(session)


def build_with_photo(session: Session, part, kind: str | None = None):
    build = make_build(session, part)
    photo = make_photo(session, build)
    if kind:
        make_finding(session, photo, kind=kind)
    session.expire(build)
    return build


@pytest.fixture
def lesson(session: Session, part):
    first = build_with_photo(session, part, "peel-tear")
    return write_lesson(session, first.findings[0].id, "Fold the peel ply right back", at=NOON)


def test_it_is_due_on_later_builds_of_its_part_only(session: Session, part, lesson) -> None:
    own = lesson.finding.build
    later = make_build(session, part)
    other = make_build(session, make_part(session, "Bow bulkhead"))

    assert lessons_for(session, own) == []
    assert lessons_for(session, later) == [(lesson, None)]
    assert lessons_for(session, other) == []
    with pytest.raises(LessonNotDueError):
        use_lesson(session, lesson.id, other.id, True, NOON)


def test_applied_or_skipped_the_later_word_stands(session: Session, part, lesson) -> None:
    later = make_build(session, part)
    use_lesson(session, lesson.id, later.id, False, NOON)
    use = use_lesson(session, lesson.id, later.id, True, NOON)
    session.expire(later)

    assert lessons_for(session, later) == [(lesson, use)]
    assert use.is_applied


def test_the_effect_counts_builds_with_and_without_it(session: Session, part, lesson) -> None:
    for applied, kind in ((True, None), (True, None), (True, "peel-tear"), (False, "peel-tear")):
        build = build_with_photo(session, part, kind)
        use_lesson(session, lesson.id, build.id, applied, NOON)
    unseen = make_build(session, part)  # never photographed: nobody looked
    use_lesson(session, lesson.id, unseen.id, True, NOON)

    effect = lesson_effect(session, lesson)
    assert (effect.before.found, effect.before.builds) == (1, 1)
    assert (effect.applied.found, effect.applied.builds) == (1, 3)
    assert (effect.skipped.found, effect.skipped.builds) == (1, 1)
    assert "came back" in effect.words and "95 % interval" in effect.words


def test_a_dropped_lesson_keeps_its_reason_and_is_due_no_more(
    session: Session, part, lesson
) -> None:
    with pytest.raises(FormError, match="for a reason"):
        set_lesson_state(session, lesson.id, LessonState.DROPPED)
    set_lesson_state(session, lesson.id, LessonState.DROPPED, reason="no change on six builds")

    assert lessons_for(session, make_build(session, part)) == []


def test_an_empty_lesson_is_refused(session: Session, lesson) -> None:
    with pytest.raises(FormError, match="one thing to change"):
        write_lesson(session, lesson.finding_id, "  ", at=NOON)


def test_the_bench_lists_what_is_open_and_due(session: Session, part, lesson) -> None:
    later = make_build(session, part)
    seen = overview(session)

    assert [build.id for build in seen.in_progress] == [later.id, lesson.finding.build_id]
    assert seen.to_decide == [lesson.finding]
    assert seen.lessons_due == [(later, [lesson])]
