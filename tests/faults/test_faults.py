"""The scripts of this folder in short: kills, full and read-only disks, writers at once."""

import os
import random
import subprocess
import sys
from pathlib import Path

import pytest
from sqlalchemy import select

from defectlog.bench.upkeep import opened
from defectlog.bench.verify import verify
from defectlog.records import Mark
from tests.faults import disks, kills, mutations, power, sequences
from tests.faults.disk_images import Disk, lucks
from tests.faults.strokes import Cut, Flushed, FolderFlushed, Named, Renamed, Wrote, can_trace
from tests.workshops import LATER, make_workshop


@pytest.mark.skipif(not hasattr(os, "fork"), reason="forks servers")
def test_a_killed_server_loses_nothing_it_acknowledged(tmp_path: Path) -> None:
    counts = kills.run(2, tmp_path / "workshop")

    assert counts.photos_acknowledged >= 2 and counts.saves_acknowledged >= 2
    assert (counts.lost, counts.other_faults) == (0, [])


@pytest.mark.skipif(not can_trace(), reason="no strace here, or it may not watch a process")
def test_whatever_a_power_cut_leaves_of_a_busy_hour_starts_and_has_all_that_was_said(
    tmp_path: Path,
) -> None:
    counts = power.run(tmp_path, by_chance=1, every=60)

    assert counts.images >= 20 and counts.acknowledged == 12
    assert (counts.lost, counts.faults, counts.broken_copies) == ([], [], [])


def test_a_disk_may_lose_what_was_not_flushed_and_nothing_else(tmp_path: Path) -> None:
    (tmp_path / "old").write_bytes(b"old")
    home = str(tmp_path)
    disk = Disk(tmp_path)
    written = (Named(f"{home}/passing", 1), Wrote(1, 0, b"photo"), Flushed(1))
    for stroke in (*written, Renamed(f"{home}/passing", f"{home}/photo")):
        disk.take(stroke)

    images = [disk.image(luck) for luck in lucks(random.Random(1), 0)]

    # The bytes are safe, the name is not yet.
    assert images == [{"old": b"old"}, {"old": b"old", "photo": b"photo"}] * 2
    disk.take(FolderFlushed(home))
    disk.take(Cut(0, 1))
    nothing, names, data, everything = (disk.image(luck) for luck in lucks(random.Random(1), 0))
    assert nothing == names == {"old": b"old", "photo": b"photo"}
    assert data == everything == {"old": b"o", "photo": b"photo"}


def test_a_full_disk_is_said_and_nothing_is_half_written(tmp_path: Path) -> None:
    with disks.small_disk(tmp_path / "disk", megabytes=4) as disk:
        counts = disks.fill_up(disk, 1)

    assert counts["saved"] > 0 and counts["refused"] == 3
    assert (counts["unsaid"], counts["lost"], counts["faults"]) == (0, 0, 0)


def test_a_disk_turned_read_only_is_said_pages_go_on_and_it_recovers(tmp_path: Path) -> None:
    with disks.small_disk(tmp_path / "disk", megabytes=8) as disk:
        answered = disks.turn_read_only(disk)

    status, said = answered["photo"]
    assert status == 507 and "read-only" in said
    assert (answered["note"], answered["page"]) == (507, 200)
    assert "cannot be written" in answered["health"]
    assert (answered["photo again"], answered["faults"]) == (201, ())


def test_any_order_of_deeds_leaves_sound_records() -> None:
    sequences.run(runs=2, steps=12)


def test_broken_photos_are_taken_or_refused_and_never_worse() -> None:
    counts = mutations.run(3, with_apart=False)

    assert [name for name in counts if name.startswith("FAULT")] == []
    assert counts["left behind"] == 0
    assert counts["refused as damaged"] > 0 and counts.total() > 50


def test_two_processes_writing_at_once_lose_nothing(tmp_path: Path) -> None:
    make_workshop(tmp_path / "workshop", photos=1).records.close()

    writers = [
        subprocess.Popen([sys.executable, "-m", "tests.faults.writer", tmp_path / "workshop", name])
        for name in ("first", "second")
    ]

    assert [writer.wait(60) for writer in writers] == [0, 0]
    with opened(tmp_path / "workshop") as kept:
        with kept.records.read() as session:
            marks = set(session.scalars(select(Mark.client_id)))
        assert verify(kept, at=LATER).faults == ()
    assert marks >= {f"{name}-{n}" for name in ("first", "second") for n in range(20)}
