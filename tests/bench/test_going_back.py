"""The copy that is made before an upgrade is brought back, to a folder or to a database."""

from pathlib import Path

import pytest
from sqlalchemy import text

from defectlog.bench.going_back import go_back, is_copy_of_records
from defectlog.bench.in_use import InUseError, use
from defectlog.bench.restore import DamagedBackupError, OccupiedError
from defectlog.bench.upkeep import Kept, opened
from defectlog.bench.verify import verify
from defectlog.errors import DefectlogError
from defectlog.records.migrating import copy_sqlite
from defectlog.records.session import Records
from tests.bench.test_backup import all_rows, backed_up
from tests.records.conftest import empty_postgresql, postgresql_address  # noqa: F401
from tests.workshops import LATER, make_workshop


@pytest.fixture
def kept(tmp_path: Path) -> Kept:
    return make_workshop(tmp_path / "workshop")


@pytest.fixture
def copy(kept: Kept, tmp_path: Path) -> Path:
    """The records as they were; since then its part has been renamed."""
    copy = tmp_path / "records-before.sqlite"
    copy_sqlite(kept.folder / "records.sqlite", copy)
    with kept.records.engine.begin() as connection:
        connection.execute(text("UPDATE part SET name = 'Renamed'"))
    kept.records.close()
    return copy


def name_in(file: Path) -> str:
    records = Records(f"sqlite:///{file}")
    with records.engine.connect() as connection:
        name = connection.execute(text("SELECT name FROM part")).scalar()
    records.close()
    return name


def test_the_records_come_back_to_their_photos_and_the_later_ones_are_kept_beside(
    kept: Kept, copy: Path
) -> None:
    was = name_in(copy)

    said = go_back(copy, kept.folder, at=LATER, replaces=True)

    assert name_in(kept.folder / "records.sqlite") == was != "Renamed"
    (beside,) = kept.folder.glob("records-before-restore-*.sqlite")
    assert name_in(beside) == "Renamed" and str(beside) in said
    with opened(kept.folder) as there:
        assert verify(there, at=LATER).faults == ()


def test_records_that_are_there_are_left_alone_unless_told(kept: Kept, copy: Path) -> None:
    before = (kept.folder / "records.sqlite").read_bytes()
    with pytest.raises(OccupiedError, match="--replace"):
        go_back(copy, kept.folder, at=LATER)
    running = use(kept.folder)
    with pytest.raises(InUseError, match="stop it first"):
        go_back(copy, kept.folder, at=LATER, replaces=True)
    running.close()

    assert (kept.folder / "records.sqlite").read_bytes() == before
    assert [place.name for place in kept.folder.glob("*.part")] == []


def test_damaged_records_are_kept_beside_as_they_are(kept: Kept, copy: Path) -> None:
    place = kept.folder / "records.sqlite"
    place.write_bytes(b"not a database" * 100)

    go_back(copy, kept.folder, at=LATER, replaces=True)

    (beside,) = kept.folder.glob("records-before-restore-*.sqlite")
    assert beside.read_bytes() == b"not a database" * 100
    assert name_in(place) == name_in(copy)


@pytest.mark.parametrize(
    "harm", [lambda data: data[:5000], lambda data: data[:4096] + b"x" * 9000 + data[13096:]]
)
def test_a_damaged_copy_is_refused_and_nothing_changed(kept: Kept, copy: Path, harm) -> None:
    copy.write_bytes(harm(copy.read_bytes()))
    before = (kept.folder / "records.sqlite").read_bytes()

    with pytest.raises(DamagedBackupError):
        go_back(copy, kept.folder, at=LATER, replaces=True)

    assert (kept.folder / "records.sqlite").read_bytes() == before


def test_a_copy_without_the_folder_of_its_photos_is_refused(copy: Path, tmp_path: Path) -> None:
    with pytest.raises(DefectlogError, match="holds no photos"):
        go_back(copy, tmp_path / "nowhere", at=LATER)


def test_an_archive_is_no_copy_of_the_records_alone(tmp_path: Path) -> None:
    kept = make_workshop(tmp_path / "other")
    assert is_copy_of_records(kept.folder / "records.sqlite")
    assert not is_copy_of_records(backed_up(kept, tmp_path / "backup.zip"))
    assert not is_copy_of_records(tmp_path / "nothing")
    kept.records.close()


@pytest.mark.postgresql
def test_the_records_come_back_into_an_empty_database(
    kept: Kept,
    copy: Path,
    postgresql_address: str,  # noqa: F811
) -> None:
    empty_postgresql(postgresql_address).close()

    go_back(copy, kept.folder, at=LATER, database=postgresql_address)

    source = Records(f"sqlite:///{copy}")
    with opened(kept.folder, postgresql_address) as there:
        assert all_rows(there.records) == all_rows(source)
        assert verify(there, at=LATER).faults == ()
    source.close()
    with pytest.raises(OccupiedError, match="left alone"):
        go_back(copy, kept.folder, at=LATER, database=postgresql_address)
