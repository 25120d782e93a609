"""Cut the power at every stroke the app makes at its disk, and look at what is left.

    python -m tests.faults.power [--by-chance 4] [--every 1]

A busy hour at the mould runs once under ``strace``. Then, for every moment in it, folders are made
as a disk may hold them after a power cut at that moment (``disk_images``), the app is started on
each, and it is counted what it had acknowledged and lost, what does not agree, and which copies for
the screen are broken and stay so. The order of a file system and of SQLite's own flushing is taken
as they promise it, not tried: for that one pulls the plug.
"""

import argparse
import hashlib
import random
import sys
import tempfile
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from PIL import Image
from sqlalchemy import select

from defectlog.bench.upkeep import Kept
from defectlog.bench.verify import verify
from defectlog.photos.renditions import SIZES
from defectlog.records import BuildFact, Finding, Mark, Measurement, Photo
from defectlog.web import create_app
from tests.faults.disk_images import Disk, lay_out, lucks
from tests.faults.strokes import Said, trace
from tests.workshops import make_workshop


@dataclass
class Counts:
    """What was counted; the last three should be 0."""

    moments: int = 0
    images: int = 0
    acknowledged: int = 0
    lost: list[str] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    broken_copies: list[str] = field(default_factory=list)

    @property
    def words(self) -> str:
        return (
            f"{self.moments} moments of a power cut, {self.images} disks that may be left, up to "
            f"{self.acknowledged} deeds acknowledged by then; {len(self.lost)} lost, "
            f"{len(self.faults)} faults (rows without a file, damage, no start), "
            f"{len(self.broken_copies)} broken copies shown"
        )


def run(
    folder: Path,
    *,
    by_chance: int = 4,
    every: int = 1,
    seed: int = 1,
    tell: Callable[[str], None] = lambda words: None,
) -> Counts:
    """Trace the busy hour once, then cut the power at every so many strokes of it."""
    home = folder / "workshop"
    make_workshop(home, photos=1).records.close()
    disk = Disk(home)
    command = [sys.executable, "-m", "tests.faults.busy_hour", str(home)]
    strokes = trace(command, home, folder / "trace")
    chance = random.Random(seed)
    counts, said, seen = Counts(), [], set()
    for number, stroke in enumerate(strokes):
        disk.take(stroke)
        if isinstance(stroke, Said):
            said.append(stroke.words)
            counts.acknowledged = len(said)
        if number % every:
            continue
        counts.moments += 1
        for luck in lucks(chance, by_chance):
            image = disk.image(luck)
            # The log is written all the time; a disk that differs in it alone is the same one.
            alike = (len(said), digest(image))
            if alike in seen:
                continue
            seen.add(alike)
            with tempfile.TemporaryDirectory(dir=folder) as left:
                lay_out(image, Path(left) / "workshop")
                look(Path(left) / "workshop", said, counts, f"stroke {number}, {stroke!s:.80}")
            counts.images += 1
        if counts.moments % 50 == 0:
            tell(counts.words)
    return counts


def digest(image: dict[str, bytes | None]) -> bytes:
    told = hashlib.sha256()
    for path, content in image.items():
        if not path.startswith("log"):
            told.update(f"{path}\0".encode())
            told.update(hashlib.sha256(content or b"").digest())
    return told.digest()


def look(folder: Path, said: list[str], counts: Counts, when: str) -> None:
    """Start the app on what is left, and compare it with what had been said."""
    try:
        app = create_app(folder)
        records, store = app.extensions["defectlog"][:2]
        kept = Kept(folder, records, store)
        try:
            page = app.test_client().get("/builds/1")
            if page.status_code != 200:
                counts.faults.append(f"{when}: the build's page answers {page.status}")
            seen = verify(kept, at=datetime.now(UTC))
            counts.lost += [f"{when}: {words}" for words in missing(kept, said)]
            counts.faults += [f"{when}: {fault.words}" for fault in seen.faults]
            counts.broken_copies += [f"{when}: {path}" for path in broken_copies(kept)]
        finally:
            records.close()
    except Exception as error:  # noqa: BLE001 - whatever stops the start is what is looked for
        counts.faults.append(f"{when}: no start, {type(error).__name__}: {error}")


def missing(kept: Kept, said: Iterable[str]) -> list[str]:
    """What was said and is not on record."""
    with kept.records.read() as session:
        photos = dict(session.execute(select(Photo.id, Photo.deleted_at)).all())
        hashes = set(session.scalars(select(Photo.sha256)))
        marks = set(session.scalars(select(Mark.client_id)))
        facts = dict(session.execute(select(BuildFact.name, BuildFact.value)).all())
        closed = set(session.scalars(select(Finding.id).where(Finding.closed_at.is_not(None))))
        measured = set(session.scalars(select(Measurement.id)))
    deeds = [words.split() for words in said]
    # Emptying the bin lets its photo go; until that is said it may be there or not.
    letting_go = {int(what[0]) for deed, *what in deeds if deed == "emptying"}
    let_go = ("emptying" in {deed for deed, *_ in deeds}) and 1 or 0
    lost = []
    for deed, *what in deeds:
        match deed:
            case "photo":
                is_there = what[0] in hashes
            case "mark":
                is_there = what[0] in marks
            case "fact":
                is_there = facts.get(what[0]) == float(what[1])
            case "measured":
                is_there = int(what[0]) in measured
            case "closed":
                is_there = int(what[0]) in closed
            case "binned":
                number = int(what[0])
                is_there = number in letting_go or photos.get(number) is not None
            case "emptied":
                is_there = int(what[0]) not in photos
            case _:
                is_there = True
        if not is_there:
            lost.append(" ".join([deed, *what]))
    unknown = [words for words in lost if words.startswith("photo ")]
    return lost if len(unknown) > let_go else [words for words in lost if words not in unknown]


def broken_copies(kept: Kept) -> list[str]:
    """Copies for the screen that are handed out and are no whole picture."""
    broken = []
    with kept.records.read() as session:
        hashes = set(session.scalars(select(Photo.sha256)))
    for sha256 in hashes:
        for size in SIZES.values():
            path = kept.store.rendition(sha256, size)
            try:
                with Image.open(path) as picture:
                    picture.load()
            except OSError:
                broken.append(path.name)
    return broken


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--by-chance", type=int, default=4, help="disks by chance, each moment")
    asked.add_argument("--every", type=int, default=1, help="look after every so many strokes")
    asked.add_argument("--seed", type=int, default=1)
    options = asked.parse_args()
    begun = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        counts = run(
            Path(folder),
            by_chance=options.by_chance,
            every=options.every,
            seed=options.seed,
            tell=print,
        )
    print(f"{counts.words}; {time.monotonic() - begun:.0f} s")
    for name in ("lost", "faults", "broken_copies"):
        for words in getattr(counts, name)[:10]:
            print(f"  {name}: {words}")


if __name__ == "__main__":
    main()
