"""A backup holds everything at one moment, and only a whole one is ever put in place."""

import hashlib
import io
import json
import threading
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import select, text

from defectlog.bench.archive import (
    DamagedBackupError,
    NewerBackupError,
    NotABackupError,
)
from defectlog.bench.backup import Backup, NotWrittenError, write_backup
from defectlog.bench.restore import OccupiedError, check_backup, restore
from defectlog.bench.upkeep import BACKED_UP, Kept, last_upkeep, opened
from defectlog.bench.verify import verify
from defectlog.records import Build, Record
from defectlog.records.copying import count_rows
from defectlog.records.migrating import migrate, newest_step
from defectlog.records.session import Records, sqlite_address
from tests.records.conftest import empty_postgresql, postgresql_address  # noqa: F401
from tests.workshops import LATER, make_workshop, take_photo


@pytest.fixture(scope="module")
def workshop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kept]:
    made = make_workshop(tmp_path_factory.mktemp("kept") / "workshop")
    yield made
    made.records.close()


@pytest.fixture(scope="module")
def archive(workshop: Kept, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return backed_up(workshop, tmp_path_factory.mktemp("stick") / "backup.zip")


def backed_up(kept: Kept, place: Path) -> Path:
    list(write_backup(kept, place, at=LATER))
    return place


def all_rows(records: Records) -> dict[str, list]:
    with records.engine.connect() as connection:
        return {
            table.name: [
                tuple(row)
                for row in connection.execute(select(table).order_by(*table.primary_key.columns))
            ]
            for table in Record.metadata.sorted_tables
        }


def all_files(folder: Path) -> dict[str, bytes]:
    return {f.name: f.read_bytes() for f in folder.glob("??/*") if len(f.stem) == 64}


def test_what_comes_back_is_what_was_there(workshop: Kept, archive: Path, tmp_path: Path) -> None:
    done = restore(archive, tmp_path / "other machine", at=LATER)

    assert done.kept_beside is None
    with opened(tmp_path / "other machine") as back:
        assert all_rows(back.records) == all_rows(workshop.records)
        assert all_files(back.store.originals.folder) == all_files(workshop.store.originals.folder)
        assert verify(back, at=LATER).faults == ()


def test_the_list_names_every_file_with_its_hash(archive: Path) -> None:
    with zipfile.ZipFile(archive) as held:
        names = held.namelist()
        said = json.loads(held.read("manifest.json"))
        for member in [said["records"], *said["originals"]]:
            assert hashlib.sha256(held.read(member["name"])).hexdigest() == member["sha256"]
    assert names[-1] == "manifest.json"
    assert len(said["originals"]) == 3 and said["step"] == newest_step()
    assert said["counts"]["photo"] == 3
    assert not any("session.key" in name for name in names)


def test_making_one_is_noted(workshop: Kept, archive: Path) -> None:
    noted = last_upkeep(workshop.folder, BACKED_UP)

    assert noted.is_well and noted.at == LATER and "3\N{NO-BREAK SPACE}photo files" in noted.words


def test_a_backup_made_while_photos_arrive_is_whole(tmp_path: Path) -> None:
    kept = make_workshop(tmp_path / "busy")
    done, taken = threading.Event(), []

    def arrive() -> None:
        for seed in range(100, 400):
            with kept.records.write() as session, session.begin():
                taken.append(take_photo(session, kept.store, session.get(Build, 1), seed).sha256)
            if done.wait(0.01):
                break

    arriving = threading.Thread(target=arrive)
    arriving.start()
    try:
        places = [backed_up(kept, tmp_path / f"{number}.zip") for number in range(3)]
    finally:
        done.set()
        arriving.join()
    kept.records.close()

    assert taken
    for place in places:
        folder = tmp_path / f"back-{place.stem}"
        restore(place, folder, at=LATER)
        with opened(folder) as back:
            assert verify(back, at=LATER).faults == ()


def test_a_folder_that_is_not_empty_is_left_alone_unless_told(
    archive: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "mine"
    folder.mkdir()
    (folder / "notes.txt").write_text("keep me")

    with pytest.raises(OccupiedError, match="--replace"):
        restore(archive, folder, at=LATER)
    assert [f.name for f in tmp_path.iterdir()] == ["mine"]

    done = restore(archive, folder, at=LATER, replaces=True)
    assert (done.kept_beside / "notes.txt").read_text() == "keep me"
    assert (folder / "records.sqlite").is_file()


def rewritten(archive: Path, place: Path, change) -> Path:
    """The archive with its parts changed: a dict of name to bytes goes through ``change``."""
    with zipfile.ZipFile(archive) as held:
        parts = [(name, held.read(name)) for name in held.namelist()]
    with zipfile.ZipFile(place, "w") as out:
        for name, data in change(parts):
            out.writestr(name, data)
    return place


def with_list(change):
    def apply(parts):
        said = json.loads(parts[-1][1])
        change(said)
        return [*parts[:-1], ("manifest.json", json.dumps(said).encode())]

    return apply


def flipped(parts):
    name, data = parts[1]
    return [parts[0], (name, data[:-1] + bytes([data[-1] ^ 1])), *parts[2:]]


@pytest.mark.parametrize(
    ("change", "refusal"),
    [
        (flipped, DamagedBackupError),
        (lambda parts: [parts[0], *parts[2:]], DamagedBackupError),
        (lambda parts: parts[:-1], NotABackupError),
        (lambda parts: [("../../out.txt", b"x"), *parts], NotABackupError),
        (lambda parts: [("photos/ab/x.jpg", b"x"), *parts], NotABackupError),
        (with_list(lambda said: said.update(kind="another thing")), NotABackupError),
        (with_list(lambda said: said.update(form=2)), NewerBackupError),
        (with_list(lambda said: said.update(step="9999")), NewerBackupError),
        (with_list(lambda said: said["counts"].update(photo=4)), DamagedBackupError),
        (with_list(lambda said: said["records"].update(bytes=-1)), DamagedBackupError),
        (with_list(lambda said: said["originals"].append({"name": 7})), DamagedBackupError),
        (
            with_list(lambda said: said["originals"][0].update(name="../../../etc/cron.d/x")),
            NotABackupError,
        ),
        (
            with_list(lambda said: said["originals"][0].update(name="/photos/x.jpg")),
            NotABackupError,
        ),
        (lambda parts: [("manifest.json", b"[1, 2"), *parts[:-1]], DamagedBackupError),
    ],
)
def test_what_is_not_whole_or_not_ours_is_refused_and_nothing_written(
    archive: Path, tmp_path: Path, change, refusal
) -> None:
    changed = rewritten(archive, tmp_path / "changed.zip", change)

    with pytest.raises(refusal):
        restore(changed, tmp_path / "inner" / "folder", at=LATER)

    assert [f.name for f in tmp_path.iterdir() if f.name != "inner"] == ["changed.zip"]
    assert not (tmp_path / "inner").exists() or not any((tmp_path / "inner").iterdir())


def test_a_backup_cut_anywhere_is_refused(archive: Path, tmp_path: Path) -> None:
    whole = archive.read_bytes()
    for share in (0, 0.1, 0.5, 0.9, 0.999):
        cut = tmp_path / "cut.zip"
        cut.write_bytes(whole[: int(share * len(whole))])
        with pytest.raises((NotABackupError, DamagedBackupError)):
            check_backup(cut)


def test_no_single_flipped_bit_is_put_in_place_unseen(archive: Path, tmp_path: Path) -> None:
    # A bit may also lie where it says nothing, such as the time of packing: then all is as listed.
    whole = archive.read_bytes()
    expected = check_backup(archive)
    refused = 0
    for number in range(60):
        flipped = bytearray(whole)
        flipped[(number * 7919 * 13) % len(whole)] ^= 1 << number % 8
        place = tmp_path / "flipped.zip"
        place.write_bytes(flipped)
        try:
            held = check_backup(place)
        except (NotABackupError, DamagedBackupError, NewerBackupError):
            refused += 1
        else:
            assert held == expected
    assert refused > 50


def test_a_photo_lost_before_is_said_and_the_rest_is_in_the_backup(tmp_path: Path) -> None:
    kept = make_workshop(tmp_path / "workshop")
    lost, damaged, _ = sorted(kept.store.originals.kept())
    kept.store.originals.remove(lost)
    kept.store.originals.path(damaged).write_bytes(b"\xff\xd8\xff rotten")

    place = backed_up(kept, tmp_path / "b.zip")

    noted = last_upkeep(kept.folder, BACKED_UP)
    assert not noted.is_well and "1\N{NO-BREAK SPACE}photo file missing" in noted.words
    held = check_backup(place)
    assert (held.missing, held.damaged) == ((lost,), (damaged,))
    done = restore(place, tmp_path / "back", at=LATER)
    assert "lost or damaged before" in done.words
    with opened(tmp_path / "back") as back:
        abouts = [fault.about for fault in verify(back, at=LATER).faults]
    assert sorted(abouts) == ["changed-file", "missing-file"]
    kept.records.close()


def test_a_backup_that_cannot_be_written_leaves_nothing(workshop: Kept, tmp_path: Path) -> None:
    with pytest.raises(NotWrittenError, match="another place"):
        backed_up(workshop, tmp_path / "no such folder" / "b.zip")
    assert list(tmp_path.iterdir()) == []
    assert not list(workshop.folder.glob("backing-up-*"))


def test_a_backup_of_an_earlier_step_is_brought_up_to_date(tmp_path: Path) -> None:
    folder = tmp_path / "old"
    folder.mkdir()
    records = Records(sqlite_address(folder / "records.sqlite"))
    migrate(records.engine, step="0003")
    with records.engine.begin() as connection:
        connection.execute(text("INSERT INTO workshop (id, name) VALUES (1, 'Heron Slip')"))
    records.close()
    with opened(folder) as old:
        place = backed_up(old, tmp_path / "old.zip")
    assert check_backup(place).step == "0003"

    restore(place, tmp_path / "new", at=LATER)

    with opened(tmp_path / "new") as back:
        assert verify(back, at=LATER).faults == ()
        with back.records.engine.connect() as connection:
            asked = text("SELECT name FROM workshop")
            assert connection.execute(asked).scalar_one() == "Heron Slip"


@pytest.mark.postgresql
def test_records_move_to_postgresql_and_back_without_a_difference(
    workshop: Kept,
    archive: Path,
    tmp_path: Path,
    postgresql_address: str,  # noqa: F811
) -> None:
    empty_postgresql(postgresql_address).close()

    restore(archive, tmp_path / "pg", at=LATER, database=postgresql_address)
    with opened(tmp_path / "pg", postgresql_address) as there:
        assert all_rows(there.records) == all_rows(workshop.records)
        assert verify(there, at=LATER).faults == ()
        with there.records.write() as session, session.begin():
            photo = take_photo(session, there.store, session.get(Build, 1), 50)
            assert photo.id == 4
        place = backed_up(there, tmp_path / "from-pg.zip")
        with there.records.engine.connect() as connection:
            counts = count_rows(connection)
        expected = all_rows(there.records)
    restore(place, tmp_path / "back", at=LATER)

    assert check_backup(place).counts == counts
    with opened(tmp_path / "back") as back:
        assert all_rows(back.records) == expected
        assert verify(back, at=LATER).faults == ()
    with pytest.raises(OccupiedError, match="left alone"):
        restore(archive, tmp_path / "third", at=LATER, database=postgresql_address)


def test_a_stream_gives_the_same_archive_as_a_file(
    workshop: Kept, archive: Path, tmp_path: Path
) -> None:
    class Line(io.RawIOBase):
        """Can only be written, like a socket."""

        data = b""

        def write(self, data) -> int:
            self.data += bytes(data)
            return len(data)

    line, backup = Line(), Backup(workshop, at=LATER)
    for _ in backup.steps(line):
        pass
    (tmp_path / "streamed.zip").write_bytes(line.data)

    assert check_backup(tmp_path / "streamed.zip").originals == check_backup(archive).originals
