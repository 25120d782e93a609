from defectlog.bench.lesson_starts import lesson_starts
from defectlog.bench.lessons import use_lesson, write_lesson
from tests.builders import NOON, make_build, make_finding, make_part, make_photo


def make_lesson(session, build, words):
    return write_lesson(
        session, make_finding(session, make_photo(session, build)).id, words, at=NOON
    )


def test_a_lesson_begins_on_the_first_build_it_was_applied_on(session):
    part = make_part(session)
    learnt, skipped, first, later = (make_build(session, part) for _ in range(4))
    lesson = make_lesson(session, learnt, "Warm the resin.")
    for build, is_applied in ((skipped, False), (first, True), (later, True)):
        use_lesson(session, lesson.id, build.id, is_applied, NOON)
    numbers = [learnt.id, skipped.id, first.id, later.id]

    (start,) = lesson_starts(session, numbers)

    assert (start.index, start.number, start.lessons) == (2, first.id, (lesson.id,))
    assert start.words == "Warm the resin"
    assert lesson_starts(session, [later.id]) == ()


def test_lessons_that_begin_together_are_one_line(session):
    part = make_part(session)
    learnt, build = make_build(session, part), make_build(session, part)
    for words in ("Warm the resin", "Bed the core in a slow-curing paste all over"):
        use_lesson(session, make_lesson(session, learnt, words).id, build.id, True, NOON)

    (start,) = lesson_starts(session, [learnt.id, build.id])

    assert start.short == "2 lessons applied"
    assert start.words.startswith("Warm the resin; Bed the core")
