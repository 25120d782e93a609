"""A disk that fills up or turns read-only under a workshop; needs the right to mount, as root has.

python -m tests.faults.disks --rounds 30
"""

import argparse
import io
import logging
import random
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from defectlog.bench.upkeep import opened
from defectlog.bench.verify import verify
from defectlog.web import create_app
from tests.workshops import make_workshop, picture


@dataclass(frozen=True)
class SmallDisk:
    """A file system of its own, in memory."""

    path: Path

    def read_only(self) -> None:
        # A file that is open for writing holds the disk as it is; the log is opened again by need.
        for name in ("defectlog", "defectlog.requests"):
            for handler in logging.getLogger(name).handlers:
                handler.close()
        _run("mount", "-o", "remount,ro", str(self.path))

    def writable(self) -> None:
        _run("mount", "-o", "remount,rw", str(self.path))


@contextmanager
def small_disk(path: Path, *, megabytes: int) -> Iterator[SmallDisk]:
    """Mount a small disk, or skip where that is not allowed."""
    path.mkdir()
    try:
        _run("mount", "-t", "tmpfs", "-o", f"size={megabytes}m", "tmpfs", str(path))
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("a disk can be mounted by root only")
    try:
        yield SmallDisk(path)
    finally:
        subprocess.run(["umount", "-l", str(path)], check=False)


def _run(*words: str) -> None:
    subprocess.run(words, check=True, capture_output=True)


def send(client: FlaskClient, data: bytes) -> tuple[int, str]:
    """Upload a photo; the status and what was said."""
    answer = client.post(
        "/builds/1/photos",
        data={"photos": (io.BytesIO(data), "a.jpg")},
        headers={"Accept": "application/json"},
    )
    said = answer.get_json(silent=True) or {}
    return answer.status_code, f"{said.get('what', '')} {said.get('do', '')}"


def save(client: FlaskClient, note: str) -> int:
    return client.post("/builds/1/note", data={"note": note}).status_code


def app_on(folder: Path) -> Flask:
    make_workshop(folder, photos=1).records.close()
    app = create_app(folder)
    app.config.update(TESTING=True, WTF_CSRF_ENABLED=False, PROPAGATE_EXCEPTIONS=False)
    return app


def fill_up(disk: SmallDisk, seed: int) -> dict[str, int]:
    """Photos and notes until the disk is full, then room again; what was counted on the way."""
    chance = random.Random(seed)
    folder = disk.path / f"w{seed}"
    app = app_on(folder)
    client = app.test_client()
    counts = {"saved": 0, "refused": 0, "unsaid": 0, "lost": 0, "faults": 0}
    ballast = disk.path / "ballast"
    ballast.write_bytes(bytes(chance.randrange(2**20, 2**21)))
    kept = set()
    for number in range(200):
        side = chance.randrange(100, 500)
        status, said = send(client, picture(1000 * seed + number, (side, side)))
        if status == 201:
            counts["saved"] += 1
            kept.add(number)
        else:
            counts["refused"] += 1
            # Said in words, with what to do, and not as a bug of ours.
            counts["unsaid"] += status not in (503, 507) or "room" not in said
        counts["unsaid"] += save(client, f"note {number}" * 50) not in (303, 503, 507)
        counts["unsaid"] += client.get("/builds/1").status_code != 200
        if counts["refused"] >= 3:
            break
    with opened(folder) as there:
        counts["faults"] += len(verify(there, at=datetime.now(UTC)).faults)
    ballast.unlink()
    # Without a start in between.
    counts["unsaid"] += send(client, picture(1000 * seed + 999))[0] != 201
    with opened(folder) as there:
        seen = verify(there, at=datetime.now(UTC))
        counts["faults"] += len(seen.faults)
        counts["lost"] += seen.photos < counts["saved"] + 2
    app.extensions["defectlog"][0].close()
    return counts


def turn_read_only(disk: SmallDisk) -> dict[str, object]:
    """The disk turns read-only under a running app, and back; what was answered."""
    folder = disk.path / "ro"
    app = app_on(folder)
    client = app.test_client()
    # Connections that are open hold the disk as it is; they are opened again by need.
    app.extensions["defectlog"][0].close()
    disk.read_only()
    answered: dict[str, object] = {
        "photo": send(client, picture(1)),
        "note": save(client, "x"),
        "page": client.get("/builds/1").status_code,
        "health": client.get("/workshop/health").text,
    }
    disk.writable()
    # A connection opened meanwhile is let go of with the first save that it refuses.
    save(client, "y")
    answered["photo again"] = send(client, picture(1))[0]
    with opened(folder) as there:
        answered["faults"] = verify(there, at=datetime.now(UTC)).faults
    app.extensions["defectlog"][0].close()
    return answered


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--rounds", type=int, default=30)
    total: dict[str, int] = {}
    rounds = asked.parse_args().rounds
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(rounds):
            with small_disk(Path(folder) / str(seed), megabytes=4) as disk:
                for name, count in fill_up(disk, seed).items():
                    total[name] = total.get(name, 0) + count
    print(f"{rounds} disks filled up:", ", ".join(f"{n} {name}" for name, n in total.items()))


if __name__ == "__main__":
    main()
