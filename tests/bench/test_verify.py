"""Looking the records over: each kind of damage is named, and sound records are called well."""

import io
import os
import shutil
import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing
from datetime import timedelta
from pathlib import Path
from random import Random

import pytest
from sqlalchemy import text

from defectlog.bench.strays import set_aside
from defectlog.bench.upkeep import VERIFIED, Kept, last_upkeep, opened
from defectlog.bench.verify import verify
from defectlog.records.guards import lift_guards, set_guards
from tests.builders import NOON
from tests.workshops import LATER, make_workshop, picture


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = make_workshop(tmp_path_factory.mktemp("sound") / "workshop")
    made.records.close()
    return made.folder


@pytest.fixture
def kept(sound: Path, tmp_path: Path) -> Iterator[Kept]:
    """A copy of a sound workshop, to be damaged."""
    folder = shutil.copytree(sound, tmp_path / "workshop")
    with opened(folder) as copy:
        yield copy


def abouts(kept: Kept) -> list[str]:
    return [fault.about for fault in verify(kept, at=LATER).faults]


def originals(kept: Kept) -> list[Path]:
    return sorted(kept.store.originals.path(sha) for sha in kept.store.originals.kept())


def behind_its_back(kept: Kept, *statements: str) -> None:
    """Change the records as another program would, with the rules taken away."""
    with kept.records.engine.begin() as connection:
        lift_guards(connection)
        for statement in statements:
            connection.execute(text(statement))


def test_sound_records_are_called_well_and_it_is_noted(kept: Kept) -> None:
    seen = verify(kept, at=LATER)

    assert seen.faults == () and seen.is_well
    assert (seen.photos, seen.files, seen.measurements) == (3, 3, 1)
    assert seen.bytes == sum(file.stat().st_size for file in originals(kept))
    noted = last_upkeep(kept.folder, VERIFIED)
    assert noted is not None and noted.is_well and noted.at == LATER


def test_one_flipped_bit_is_found_and_its_photo_named(kept: Kept) -> None:
    file = originals(kept)[1]
    data = bytearray(file.read_bytes())
    data[len(data) // 2] ^= 1
    file.write_bytes(data)

    (fault,) = verify(kept, at=LATER).faults

    assert fault.about == "changed-file" and file.name in fault.what
    assert "photo" in fault.what and "build 1" in fault.what and "backup" in fault.do
    assert not last_upkeep(kept.folder, VERIFIED).is_well


def test_a_cut_file_and_a_lost_file_are_both_named(kept: Kept) -> None:
    cut, lost, _ = originals(kept)
    cut.write_bytes(cut.read_bytes()[:-1])
    lost.unlink()

    faults = verify(kept, at=LATER).faults

    assert sorted(fault.about for fault in faults) == ["changed-file", "missing-file"]
    assert all(file.stem in " ".join(f.what for f in faults) for file in (cut, lost))


def test_two_files_that_changed_places_are_both_named(kept: Kept) -> None:
    one, other, _ = originals(kept)
    a, b = one.read_bytes(), other.read_bytes()
    one.write_bytes(b)
    other.write_bytes(a)

    assert abouts(kept) == ["changed-file"] * 2


def test_a_file_without_a_record_is_found_and_can_be_set_aside(kept: Kept) -> None:
    with kept.store.originals.receive(io.BytesIO(picture(99))) as incoming:
        file = kept.store.originals.keep(incoming)
    # As young as this it may be on its way: its record comes after it.
    assert abouts(kept) == []
    assert "an upload went on" in " ".join(verify(kept, at=LATER).remarks)
    with kept.records.write() as session, session.begin():
        assert set_aside(session, kept.store) == 0

    an_hour_ago = time.time() - 3600
    os.utime(file, (an_hour_ago, an_hour_ago))
    assert abouts(kept) == ["stray-file"]

    with kept.records.write() as session, session.begin():
        assert set_aside(session, kept.store) == 1

    assert abouts(kept) == []
    aside = kept.store.originals.folder / "set-aside"
    assert [file.read_bytes() for file in aside.iterdir()] == [picture(99)]


def test_a_file_that_is_none_of_ours_is_found(kept: Kept) -> None:
    (kept.store.originals.folder / "ab").mkdir(exist_ok=True)
    (kept.store.originals.folder / "ab" / "holiday.jpg").write_bytes(b"x")

    assert abouts(kept) == ["foreign-file"]


def test_a_photo_in_the_bin_must_have_its_file_too(kept: Kept) -> None:
    with kept.records.engine.begin() as connection:
        connection.execute(text("UPDATE photo SET deleted_at = received_at WHERE id = 3"))
        sha256 = connection.execute(text("SELECT sha256 FROM photo WHERE id = 3")).scalar_one()
    assert abouts(kept) == []

    kept.store.originals.remove(sha256)

    assert abouts(kept) == ["missing-file"]


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE measurement SET void_fraction = 0.0124",
        "UPDATE measurement SET at = '2026-03-02 12:00:01.000000'",
        "UPDATE measurement SET voids_png = x'00'",
        "UPDATE measurement SET warnings = '[\"x\"]'",
        "UPDATE finding SET reason = 'filled'",
        "UPDATE decision SET outcome = 'scrap'",
    ],
)
def test_what_was_rewritten_behind_our_back_is_found(kept: Kept, statement: str) -> None:
    behind_its_back(kept, statement)
    with kept.records.engine.begin() as connection:
        set_guards(connection)

    (fault,) = verify(kept, at=LATER).faults
    assert fault.about == "append-only"


def test_a_rule_taken_away_is_found(kept: Kept) -> None:
    with kept.records.engine.begin() as connection:
        connection.execute(text("DROP TRIGGER keep_measurement_edit"))

    (fault,) = verify(kept, at=LATER).faults
    assert fault.about == "append-only" and "measurement_edit" in fault.what


def test_a_row_that_belongs_to_nothing_is_found(kept: Kept) -> None:
    with closing(sqlite3.connect(kept.folder / "records.sqlite")) as other_program:
        other_program.execute("UPDATE mark SET finding_id = 77")
        other_program.commit()

    (fault,) = verify(kept, at=LATER).faults
    assert fault.about == "reference" and "mark with id 1" in fault.what


@pytest.mark.parametrize("seed", range(4))
def test_a_damaged_database_is_a_fault_and_not_a_crash(kept: Kept, seed: int) -> None:
    noise = Random(seed)
    file = kept.folder / "records.sqlite"
    kept.records.close()
    size = file.stat().st_size
    with file.open("r+b") as pages:
        for at in range(4096, size, 4096):
            pages.seek(at + 2000)
            pages.write(noise.randbytes(600))

    assert "database" in abouts(kept)


def test_a_damaged_name_that_is_no_text_is_a_fault_and_not_a_crash(kept: Kept) -> None:
    kept.records.close()
    file = kept.folder / "records.sqlite"
    pages = file.read_bytes()
    # As the schema keeps it: its kind, its name, its table's name, how it was made.
    kept_as, damaged = b"tablephotophoto", b"tablep\xabotophoto"
    assert kept_as in pages and b"CREATE TABLE photo" in pages
    pages = pages.replace(kept_as, damaged).replace(b"CREATE TABLE photo", b"CREATE TABLX photo")
    file.write_bytes(pages)

    assert "database" in abouts(kept)


def test_a_file_that_is_no_database_is_a_fault_and_not_a_crash(kept: Kept) -> None:
    kept.records.close()
    (kept.folder / "records.sqlite").write_bytes(b"not a database, only text " * 400)

    assert abouts(kept) == ["database"]


def test_a_clock_set_back_is_remarked_on(kept: Kept) -> None:
    seen = verify(kept, at=NOON - timedelta(days=1))

    assert seen.is_well and "clock" in seen.remarks[0]
