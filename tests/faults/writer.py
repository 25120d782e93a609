"""Draws twenty marks and takes in five photos in a workshop that another process writes, too."""

import sys
from pathlib import Path

from defectlog.bench.findings import add_mark
from defectlog.bench.upkeep import opened
from defectlog.records import Build, Shape
from tests.builders import NOON
from tests.workshops import take_photo

if __name__ == "__main__":
    folder, name = sys.argv[1:]
    with opened(Path(folder)) as kept:
        for number in range(20):
            with kept.records.writing.begin() as session:
                add_mark(
                    session,
                    1,
                    Shape.POINT,
                    [(5, 5)],
                    kind="dry-spot",
                    client_id=f"{name}-{number}",
                    at=NOON,
                )
                if number % 4 == 0:
                    # Half of the photos are the same in both.
                    seed = 50 + number + (100 if name == "first" and number % 8 else 0)
                    take_photo(session, kept.store, session.get(Build, 1), seed)
