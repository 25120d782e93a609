"""A small demo from its first photo to the folder in its place."""

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import select

from defectlog.bench.lesson_effects import lesson_effect
from defectlog.bench.lessons import lessons_for, list_lessons
from defectlog.bench.overview import overview
from defectlog.bench.parts import workshop_name
from defectlog.bench.trials import find_trial, progress
from defectlog.demo.plot import Progress
from defectlog.demo.shop import MARKER, NotOurFolderError, build, ensure_demo
from defectlog.demo.story import BUILDS
from defectlog.records import Build, Finding, FixResult, Measurement, Photo
from defectlog.records.session import Records, sqlite_address

NOW = datetime(2025, 6, 12, 17, 0, tzinfo=UTC)
# A torn lid and its lesson, a lid on which that was skipped, and the lid on the mould.
TORN = next(
    plan
    for plan in BUILDS
    if any(t.learnt and t.learnt.label == "fold-hatch" for t in plan.troubles)
)
SKIPPED = next(plan for plan in BUILDS if "fold-hatch" in plan.skips)
SMALL = (TORN, SKIPPED, BUILDS[-1])


def quiet(_share: float, _words: str) -> None:
    """Say nothing of how far it is."""


@pytest.fixture(scope="module")
def small(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("shop") / "demo"
    return build(folder, quiet, plans=SMALL, now=NOW, processes=1)


@pytest.fixture
def opened(small):
    records = Records(sqlite_address(small / "records.sqlite"))
    with records.read() as session:
        yield session
    records.close()


def test_the_workshop_has_its_name_and_its_builds(opened):
    assert workshop_name(opened) == "Heron Slip"
    builds = opened.scalars(select(Build).order_by(Build.id)).all()
    assert [build.is_released for build in builds] == [True, True, False]


def test_every_photo_has_its_file_and_a_scale_from_the_card(opened, small):
    photos = opened.scalars(select(Photo)).all()

    assert len(photos) >= 6
    for photo in photos:
        assert (small / "photos" / photo.sha256[:2] / f"{photo.sha256}.jpg").is_file()
        assert photo.scale.source == "card"
        assert photo.taken_at is not None


def test_the_tool_sides_are_measured_once_each(opened):
    measured = opened.scalars(select(Measurement)).all()

    assert len(measured) == 2
    assert all(m.region and m.inspected_mm2 for m in measured)
    # Bagged wet lay-up against infusion: what the whole demo is about.
    assert measured[0].void_fraction > measured[1].void_fraction_high


def test_the_skipped_lesson_shows_as_such(opened):
    (lesson,) = list_lessons(opened)

    effect = lesson_effect(opened, lesson)
    assert (effect.skipped.found, effect.skipped.builds) == (1, 1)
    assert "strip" in lesson.words


def test_the_torn_ply_has_its_cause_fix_photos_and_outcome(opened):
    torn = opened.scalars(select(Finding).where(Finding.kind == "peel-tear")).first()

    assert torn.confirmed_cause == "lifted-not-folded"
    (fix,) = torn.fixes
    assert (fix.fix_key, fix.result) == ("replace-ply", FixResult.HELD)
    assert not torn.is_open
    assert len({mark.photo.stage for mark in torn.marks}) == 2


def test_the_lesson_is_due_on_the_build_on_the_mould(opened):
    seen = overview(opened)

    assert [build.id for build in seen.in_progress] == [3]
    ((lesson, use),) = lessons_for(opened, seen.in_progress[0])
    assert lesson.finding.kind == "peel-tear"
    assert use is None


def test_the_trials_are_one_decided_and_one_half_made(tmp_path):
    panels = tuple(plan for plan in BUILDS if plan.trial)
    folder = build(tmp_path / "demo", quiet, plans=panels, now=NOW, processes=1)
    records = Records(sqlite_address(folder / "records.sqlite"))
    with records.read() as session:
        decided, running = (find_trial(session, number) for number in (1, 2))

        # Drawn with twice as much on one setting: the trial has to say so.
        (sentence,) = decided.verdict["sentences"]
        assert "points higher" in sentence and "more than the" in sentence
        assert len(decided.verdict["beside"]) == 2
        for run in (*decided.runs, *running.runs[:4]):
            assert run.build.known[run.trial.fact] == run.value
        come = progress(session, running)
        assert (len(come.values), come.next_run.number) == (4, 5)
        assert "made alike differ by" in running.planned_words
        assert max(decided.decided_at, running.planned_at) <= NOW
    records.close()


def test_nothing_is_dated_after_now(opened):
    moments = [build.started_at for build in opened.scalars(select(Build))]
    moments += [fact.at for build in opened.scalars(select(Build)) for fact in build.facts]
    moments += [photo.received_at for photo in opened.scalars(select(Photo))]
    assert max(moments) <= NOW


def test_the_oven_comes_after_the_mould_in_what_is_written_down(opened):
    for one in opened.scalars(select(Build)):
        at = {fact.name: fact.at for fact in one.facts}
        if "postcure_h" in at:
            # Some hours in the mould, and after those some in the oven.
            assert (at["demould_after_h"] - at["resin_mixed_g"]).total_seconds() > 15 * 3600
            hours = one.known["postcure_h"]
            assert (at["postcure_h"] - at["demould_after_h"]).total_seconds() >= hours * 3600


def test_a_demo_that_is_there_is_taken_as_it_is(small):
    before = (small / "records.sqlite").stat().st_mtime_ns

    assert ensure_demo(small, quiet) == small
    assert (small / "records.sqlite").stat().st_mtime_ns == before


def test_a_demo_that_was_cut_off_leaves_nothing_behind(tmp_path):
    def cut_off(_share: float, _words: str) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        build(tmp_path / "demo", cut_off, plans=(), now=NOW)

    assert list(tmp_path.iterdir()) == []
    build(tmp_path / "demo", quiet, plans=(), now=NOW)
    assert json.loads((tmp_path / "demo" / MARKER).read_text())["builds"] == 0


def test_a_folder_that_holds_something_else_is_left_alone(tmp_path):
    (tmp_path / "letters.txt").write_text("not a demo")

    with pytest.raises(NotOurFolderError):
        ensure_demo(tmp_path, quiet)
    assert (tmp_path / "letters.txt").read_text() == "not a demo"


def test_a_demo_of_an_older_version_is_moved_aside(tmp_path):
    folder = tmp_path / "demo"
    folder.mkdir()
    (folder / MARKER).write_text(json.dumps({"version": 0}))
    (folder / "mine.txt").write_text("written into the old demo")

    build(folder, quiet, plans=(), now=NOW)

    assert (folder / "records.sqlite").is_file()
    (aside,) = [other for other in tmp_path.iterdir() if other != folder]
    assert (aside / "mine.txt").is_file()


def test_progress_rises_to_one(tmp_path):
    told: list[float] = []

    build(tmp_path / "demo", lambda share, _: told.append(share), plans=(BUILDS[-1],), now=NOW)

    assert BUILDS[-1].progress is Progress.LAID_UP
    assert told == sorted(told)
    assert told[-1] == 1.0
