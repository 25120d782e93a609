"""The bin: nothing deleted is lost until it is emptied, and a file stays while a row names it."""

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from defectlog.bench import bin as the_bin
from defectlog.bench.builds import find_build, start_build
from defectlog.bench.findings import ClosedFindingError, find_finding
from defectlog.bench.long_lists import page_of_builds
from defectlog.bench.photos import delete_photo
from defectlog.bench.upkeep import BusyError, Kept, holding, opened
from defectlog.bench.verify import verify
from defectlog.errors import NotFoundError
from defectlog.records import Build, Finding, Mark, Measurement, Photo
from tests.builders import NOON, make_build, make_finding, make_part
from tests.measured import add_measurement
from tests.workshops import LATER, make_workshop, take_photo

MONTH = timedelta(days=30)


@pytest.fixture
def kept(tmp_path: Path) -> Iterator[Kept]:
    made = make_workshop(tmp_path / "workshop")
    yield made
    made.records.close()


@pytest.fixture
def session(kept: Kept) -> Iterator[Session]:
    with kept.records.write() as open_session:
        yield open_session


def things(session: Session) -> list[tuple[str, int]]:
    return [(one.thing, one.number) for one in the_bin.in_the_bin(session)]


def marked_photo(session: Session) -> Photo:
    photo = session.get(Photo, 2)
    make_finding(session, photo, "pinholes-tool", points=((5, 5), (50, 40)))
    add_measurement(session, photo, 0.01)
    session.flush()
    return photo


def test_a_photo_comes_back_with_its_marks_and_its_finding(session: Session) -> None:
    photo = marked_photo(session)
    finding = photo.marks[0].finding
    delete_photo(session, photo.id, LATER)
    assert things(session) == [("photo", 2), ("finding", finding.id)]
    with pytest.raises(NotFoundError):
        find_finding(session, finding.id)

    assert the_bin.bring_back(session, "photo", 2) == photo.build_id

    assert things(session) == []
    assert [m.finding_id for m in photo.marks] == [finding.id]
    assert find_finding(session, finding.id).build.photos[1] is photo
    assert photo.measurement is not None


def test_what_was_deleted_earlier_stays_deleted_when_the_photo_comes_back(session) -> None:
    photo = marked_photo(session)
    the_bin.delete_finding(session, photo.marks[0].finding_id, NOON)
    session.expire(photo, ["marks"])
    delete_photo(session, photo.id, LATER)

    the_bin.bring_back(session, "photo", photo.id)

    assert photo.marks == [] and things(session) == [("finding", 2)]


def test_a_finding_comes_back_with_its_marks(session: Session) -> None:
    photo = marked_photo(session)
    number = photo.marks[0].finding_id
    the_bin.delete_finding(session, number, LATER)
    assert things(session) == [("finding", number)]

    the_bin.bring_back(session, "finding", number)

    session.expire(photo, ["marks"])
    assert [mark.finding_id for mark in photo.marks] == [number]


def test_a_closed_finding_is_a_record_and_its_photo_too(session: Session) -> None:
    with pytest.raises(ClosedFindingError, match="open it again first"):
        the_bin.delete_finding(session, 1, LATER)
    with pytest.raises(ClosedFindingError):
        delete_photo(session, 1, LATER)
    session.rollback()
    assert session.get(Photo, 1).deleted_at is None


def test_a_build_begun_by_mistake_goes_and_one_with_photos_stays(session: Session) -> None:
    mistake = make_build(session, make_part(session, "Hatch lid"), cure_c=20.0)
    with pytest.raises(the_bin.NotBareError, match="photos"):
        the_bin.delete_build(session, 1, LATER)

    the_bin.delete_build(session, mistake.id, LATER)
    session.commit()
    session.expire_all()

    assert [build.id for build in page_of_builds(session, most=9).builds] == [1]
    with pytest.raises(NotFoundError):
        find_build(session, mistake.id)
    session.expunge_all()
    assert mistake.id not in {b.id for b in session.scalars(select(Build))}
    assert things(session) == [("build", mistake.id)]

    the_bin.bring_back(session, "build", mistake.id)

    assert find_build(session, mistake.id).known == {"cure_c": 20.0}


def test_emptying_lets_go_of_rows_then_of_files_nobody_names(kept: Kept, session) -> None:
    photo = marked_photo(session)
    other = start_build(session, photo.build.part_id, NOON)
    shared = take_photo(session, kept.store, other, 2)
    delete_photo(session, 2, LATER)
    delete_photo(session, 3, LATER)
    hashes = [session.get(Photo, number).sha256 for number in (2, 3)]
    assert shared.sha256 == hashes[1]
    session.commit()

    assert the_bin.empty(kept.records, kept.store, kept.folder, before=LATER - MONTH) == 0
    assert all(kept.store.originals.exists(sha256) for sha256 in hashes)
    assert the_bin.empty(kept.records, kept.store, kept.folder, before=LATER) == 3

    session.expire_all()
    assert session.scalar(select(func.count()).select_from(Photo)) == 2
    assert session.scalar(select(func.count()).select_from(Measurement)) == 1
    assert [f.id for f in session.scalars(select(Finding))] == [1]
    assert [m.id for m in session.scalars(select(Mark))] == [1]
    assert [kept.store.originals.exists(sha256) for sha256 in hashes] == [False, True]
    assert not list(kept.store.originals.folder.glob(f"??/{hashes[0]}*"))
    session.close()
    assert verify(kept, at=LATER).faults == ()


def test_the_bin_is_not_emptied_while_a_backup_is_made(kept: Kept) -> None:
    with holding(kept.folder), pytest.raises(BusyError):
        the_bin.empty(kept.records, kept.store, kept.folder, before=LATER)


def test_a_photo_sent_again_while_its_file_goes_is_not_recorded_without_it(kept: Kept) -> None:
    from defectlog.bench.intake import WentMeanwhileError, keep_file, record
    from defectlog.records import Face, PhotoStage
    from tests.workshops import picture

    arrival = keep_file(kept.store, picture(40))
    kept.store.originals.remove(arrival.sha256)

    words = {"name": "x.jpg", "face": Face.TOOL, "stage": PhotoStage.DEMOULD, "at": NOON}
    with (
        pytest.raises(WentMeanwhileError, match="once more"),
        kept.records.write() as session,
        session.begin(),
    ):
        record(session, 1, arrival, **words)
    with opened(kept.folder) as again:
        assert verify(again, at=LATER).faults == ()
