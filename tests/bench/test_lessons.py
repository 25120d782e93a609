"""A lesson is due on the part's next builds and says whether its kind came back."""

import pytest
from sqlalchemy.orm import Session

from defectlog.bench.lesson_effects import (
    Effect,
    Share,
    due_builds,
    due_words,
    lesson_effect,
    look_over,
)
from defectlog.bench.lessons import (
    LessonNotDueError,
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


def effect_of(applied: tuple[int, int], before: tuple[int, int]) -> Effect:
    """Findings on so many builds, one a build."""
    with_it, earlier = (Share(min(n, of), of, n) for n, of in (applied, before))
    return Effect(before=earlier, applied=with_it, skipped=Share(0, 0))


def test_a_kind_that_stayed_away_long_enough_comes_up_less_often() -> None:
    # By hand: of 10 findings none fell after. The mid-P upper end of that share is where half of
    # (1 − share)^10 is 0.025: 1 − 0.05^(1/10) = 0.2589, as a ratio 0.2589/0.7411 = 0.349.
    words = effect_of((0, 10), (10, 10)).change_words

    assert "with the lesson: it comes up less often, at most 0.35 times as often" in words
    # With four on each side it is 0.5271/0.4729 = 1.115, so nothing is shown yet.
    few = effect_of((0, 4), (4, 4)).change_words
    assert "Not seen on 4" in few
    assert "with this few it could still be up to 1.1 times as often as before" in few


def test_a_lesson_after_which_it_comes_up_as_often_has_not_helped() -> None:
    assert effect_of((3, 3), (3, 3)).has_not_helped
    assert not effect_of((1, 3), (3, 3)).has_not_helped
    assert not effect_of((2, 2), (1, 1)).has_not_helped  # two builds have not had their chance
    assert effect_of((0, 0), (3, 3)).change_words == ""
    assert "more often" in effect_of((30, 5), (1, 5)).change_words


def test_a_proposal_is_on_no_lay_up_sheet_until_it_is_on_trial(session, part, lesson) -> None:
    later = make_build(session, part)
    set_lesson_state(session, lesson.id, LessonState.PROPOSED)
    assert lessons_for(session, later) == []
    assert due_words(due_builds(session, lesson)) == "Not due on any build yet."

    set_lesson_state(session, lesson.id, LessonState.ON_TRIAL)
    assert lessons_for(session, later) == [(lesson, None)]


def test_builds_tell_whether_it_was_applied_skipped_or_not_said(session, part, lesson) -> None:
    applied, skipped, silent = (build_with_photo(session, part) for _ in range(3))
    use_lesson(session, lesson.id, applied.id, True, NOON)
    use_lesson(session, lesson.id, skipped.id, False, NOON)
    make_build(session, make_part(session, "Bow bulkhead"))

    rows = due_builds(session, lesson)

    assert [(row.number, row.answer, row.came_back) for row in rows] == [
        (applied.id, "applied", False),
        (skipped.id, "skipped", False),
        (silent.id, "not said yet", False),
    ]
    assert due_words(rows).endswith("applied on 1, skipped on 1, not said yet on 1.")


def test_a_dropped_lesson_tells_only_of_builds_that_answered(session, part, lesson) -> None:
    applied = make_build(session, part)
    use_lesson(session, lesson.id, applied.id, True, NOON)
    make_build(session, part)
    set_lesson_state(session, lesson.id, LessonState.DROPPED, reason="No change on six builds")

    assert [(row.number, row.came_back) for row in due_builds(session, lesson)] == [
        (applied.id, None)
    ]


def test_a_board_looked_over_once_says_what_each_lesson_alone_says(session, part, lesson) -> None:
    other = make_part(session, "Bow bulkhead")
    first = build_with_photo(session, other, "dry-spot")
    second = write_lesson(session, first.findings[0].id, "Warm the resin", at=NOON)
    for of, kind in ((part, "peel-tear"), (part, "dry-spot"), (other, None), (other, "dry-spot")):
        build = build_with_photo(session, of, kind)
        use_lesson(session, (lesson if of is part else second).id, build.id, True, NOON)

    looked = look_over(session, [lesson, second])

    for one in (lesson, second):
        assert lesson_effect(session, one, looked) == lesson_effect(session, one)
        assert due_builds(session, one, looked) == due_builds(session, one)
    # A dry spot is not what the first lesson was about.
    assert lesson_effect(session, lesson, looked).applied == Share(1, 2, 1)


def test_deleted_photos_and_findings_count_on_no_lesson(session, part, lesson) -> None:
    gone, kept = (build_with_photo(session, part, "peel-tear") for _ in range(2))
    gone.photos[0].deleted_at = NOON
    kept.findings[0].deleted_at = NOON
    for build in (gone, kept):
        use_lesson(session, lesson.id, build.id, True, NOON)
    session.flush()

    assert lesson_effect(session, lesson).applied == Share(0, 1, 0)
