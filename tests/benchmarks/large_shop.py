"""A workshop far larger than any two people fill, written into SQLite in bulk, for timing.

Ten parts share the builds unevenly, so that a page's time can be held against how many builds
the part has. Every build has facts, photos, findings with marks, and measured photos.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np
from sqlalchemy import Table, insert
from sqlalchemy.engine import Connection

from defectlog.records import (
    Build,
    BuildFact,
    Face,
    Finding,
    Lesson,
    LessonState,
    LessonUse,
    Mark,
    Measurement,
    Outcome,
    Part,
    Photo,
    PhotoScale,
    PhotoStage,
    Shape,
    Trial,
    TrialResult,
    TrialRun,
    TrialState,
)
from defectlog.records.migrating import migrate
from defectlog.records.session import Records, sqlite_address

FIRST_DAY = datetime(2016, 1, 4, 8, 0, tzinfo=UTC)
# How the builds are shared out, in 40ths; the doubling steps show how a page grows.
SHARES = (1, 2, 4, 8, 16, 3, 2, 2, 1, 1)
_DEALT = np.random.default_rng(0).permutation(np.repeat(np.arange(1, 11), SHARES)).tolist()
KINDS = ("pinholes-tool", "dry-spot", "peel-tear", "air-bubbles", "print-through", "wrinkle")
TRIAL_PART = 4
PANELS = 24
LESSONS = 30
_AT_ONCE = 20_000
_MASK = bytes(range(256)) * 8  # as large as a small mask; nobody may read it for a trend


@dataclass(frozen=True, slots=True)
class Size:
    """How much there is of everything."""

    builds: int
    photos: int
    marks: int
    findings: int
    measurements: int

    @classmethod
    def of(cls, builds: int) -> "Size":
        return cls(builds, 10 * builds, 100 * builds, 3 * builds, 2 * builds)


def write_large_shop(folder: Path, builds: int = 10_000, *, seed: int = 1) -> Size:
    """Write the workshop into ``folder/records.sqlite``, unless one is there already."""
    size = Size.of(builds)
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / "records.sqlite"
    if file.exists():
        return size
    passing = file.with_suffix(".part")
    passing.unlink(missing_ok=True)
    records = Records(sqlite_address(passing))
    migrate(records.engine)
    rng = np.random.default_rng(seed)
    with records.engine.begin() as connection:
        for record, rows in _tables(builds, rng):
            _write(connection, record.__table__, rows)
        connection.exec_driver_sql("ANALYZE")
    records.close()
    passing.rename(file)
    return size


def part_of(build: int) -> int:
    """Which part a build is of, its builds spread over all the years."""
    return _DEALT[(build - 1) % len(_DEALT)]


def _write(connection: Connection, table: Table, rows: Iterator[dict[str, Any]]) -> None:
    while some := list(islice(rows, _AT_ONCE)):
        connection.execute(insert(table), some)


def _tables(builds: int, rng: np.random.Generator) -> Iterator[tuple[Any, Iterator[Any]]]:
    numbers = range(1, builds + 1)
    yield Part, (_part(number) for number in range(1, len(SHARES) + 1))
    yield Build, (_build(number, builds) for number in numbers)
    yield BuildFact, (fact for number in numbers for fact in _facts(number, builds, rng))
    yield Photo, (photo for number in numbers for photo in _photos(number))
    yield PhotoScale, (_scale(photo) for photo in range(1, 10 * builds + 1))
    yield Finding, (one for number in numbers for one in _findings(number, builds, rng))
    yield Mark, (mark for number in numbers for mark in _marks(number))
    yield Measurement, (one for number in numbers for one in _measured(number, builds, rng))
    yield Lesson, (_lesson(number, builds) for number in range(1, LESSONS + 1))
    yield LessonUse, _lesson_uses(builds)
    yield Trial, iter([_trial(1, TrialState.RUNNING)])
    yield TrialRun, (_run(number, builds) for number in range(1, PANELS + 1))


def _day(build: int) -> datetime:
    return FIRST_DAY + timedelta(hours=8 * build)


def _is_infused(build: int, builds: int) -> bool:
    return build > builds / 2


def _part(number: int) -> dict[str, Any]:
    return {
        "id": number,
        "name": f"Panel {number:02d}",
        "drawing_ref": f"HS-{number}",
        "mould": f"M{number % 4}",
        "target_mass_g": 2400.0,
        "laminate_plan": "",
    }


def _build(number: int, builds: int) -> dict[str, Any]:
    released = _day(number) + timedelta(days=2)
    return {
        "id": number,
        "part_id": part_of(number),
        "started_at": _day(number),
        "released_at": None if number > builds - 12 else released,
        "note": "",
    }


def _facts(build: int, builds: int, rng: np.random.Generator) -> Iterator[dict[str, Any]]:
    infused = _is_infused(build, builds)
    values = {
        "process": "infusion" if infused else "bagged-wet-layup",
        "mass_g": round(float(rng.normal(2300 if infused else 2400, 40)), 1),
        "effort_min": round(float(rng.normal(210, 25)), 0),
        "resin_left_g": round(float(rng.gamma(4, 30)), 0),
        "resin_mixed_g": round(float(rng.normal(1100, 60)), 0),
        "area_dm2": 40.0,
        "ambient_c": round(float(rng.normal(20, 3)), 1),
        "humidity_pct": round(float(rng.uniform(35, 75)), 0),
        "drop_start_mbar": 20.0,
        "drop_end_mbar": round(20 + float(rng.gamma(2, 2)), 1),
        "drop_minutes": 10.0,
        "tack_adhesive": "light" if rng.random() < 0.2 else "none",
        "degassed": bool(rng.random() < 0.7),
        "resin_system": f"slow epoxy {build // 2500}",
    }
    for name, value in values.items():
        yield {"build_id": build, "name": name, "value": value, "at": _day(build)}


def _photos(build: int) -> Iterator[dict[str, Any]]:
    for which in range(10):
        number = 10 * (build - 1) + which + 1
        yield {
            "id": number,
            "build_id": build,
            "sha256": f"{number:064x}",
            "name": f"photo-{number}.jpg",
            "media_type": "image/jpeg",
            "bytes": 4_000_000,
            "width_px": 4000,
            "height_px": 3000,
            "face": Face.TOOL if which < 5 else Face.BAG,
            "stage": PhotoStage.DEMOULD if which % 5 < 3 else PhotoStage.TRIMMED,
            "note": "",
            "received_at": _day(build),
        }


def _scale(photo: int) -> dict[str, Any]:
    return {
        "photo_id": photo,
        "source": "card",
        "px_per_mm": 12.0,
        "uncertainty_pct": 0.5,
        "card_outlines": [],
        "warnings": [],
        "at": FIRST_DAY,
    }


def _findings(build: int, builds: int, rng: np.random.Generator) -> Iterator[dict[str, Any]]:
    is_open = build > builds - 60
    for which in range(3):
        yield {
            "id": 3 * (build - 1) + which + 1,
            "build_id": build,
            "kind": KINDS[int(rng.integers(len(KINDS)))],
            "note": "",
            "opened_at": _day(build),
            "outcome": Outcome.OPEN if is_open else Outcome.REWORK,
            "reason": "",
            "closed_at": None if is_open else _day(build) + timedelta(days=1),
        }


def _marks(build: int) -> Iterator[dict[str, Any]]:
    for which in range(100):
        x, y = 37 * which % 3900, 53 * which % 2900
        yield {
            "photo_id": 10 * (build - 1) + which // 10 + 1,
            "finding_id": 3 * (build - 1) + which % 3 + 1,
            "shape": Shape.LINE,
            "points": [[x, y], [x + 20, y + 10]],
            "drawn_at": _day(build),
        }


def _measured(build: int, builds: int, rng: np.random.Generator) -> Iterator[dict[str, Any]]:
    middle = 0.006 if _is_infused(build, builds) else 0.02
    for which in range(2):
        value = middle * float(rng.lognormal(0, 0.15))
        yield {
            "photo_id": 10 * (build - 1) + which + 1,
            "at": _day(build),
            "version": "bulk",
            "settings": {},
            "look": "dark",
            "void_fraction": value,
            "void_fraction_low": 0.9 * value,
            "void_fraction_high": 1.1 * value,
            "count": int(rng.negative_binomial(5, 0.1)),
            "density_per_cm2": 0.2,
            "largest_mm": round(float(rng.lognormal(0, 0.3)), 2),
            "largest_px": 12.0,
            "inspected_px": 9_000_000,
            "inspected_mm2": 62_500.0,
            "not_inspected_fraction": 0.02,
            "warnings": [],
            "seconds": 1.0,
            "result": {"voids": []},
            "voids_png": _MASK,
            "inspected_png": _MASK,
        }


def _lesson_of(number: int, builds: int) -> tuple[int, int]:
    """The build a lesson came from, in the middle of the years, and the part of that build."""
    build = builds // 3 + number * builds // 100
    return build, part_of(build)


def _lesson(number: int, builds: int) -> dict[str, Any]:
    build, part = _lesson_of(number, builds)
    return {
        "id": number,
        "part_id": part,
        "finding_id": 3 * (build - 1) + 1,
        "cause": None,
        "words": f"Change {number}: one thing, on the next builds.",
        "state": list(LessonState)[number % 4],
        "reason": "",
        "written_at": _day(build),
    }


def _lesson_uses(builds: int) -> Iterator[dict[str, Any]]:
    for lesson in range(1, LESSONS + 1):
        from_build, part = _lesson_of(lesson, builds)
        due = [n for n in range(from_build + 1, builds + 1) if part_of(n) == part]
        for build in due[:200]:
            yield {
                "lesson_id": lesson,
                "build_id": build,
                "is_applied": build % 5 > 0,
                "at": _day(build),
            }


def _trial(number: int, state: TrialState) -> dict[str, Any]:
    return {
        "id": number,
        "part_id": TRIAL_PART,
        "question": "Does degassing lower the voids?",
        "fact": "degassed",
        "settings": [False, True],
        "result": TrialResult.VOIDS,
        "smallest_difference": 0.001,
        "per_setting": PANELS // 2,
        "seed": 1,
        "by_day": False,
        "planned_words": "",
        "planned_at": FIRST_DAY,
        "state": state,
        "stopped_reason": "",
    }


def _run(number: int, builds: int) -> dict[str, Any]:
    own = [n for n in range(builds, 0, -1) if part_of(n) == TRIAL_PART][:PANELS]
    return {
        "trial_id": 1,
        "number": number,
        "setting": number % 2,
        "block": (number + 1) // 2,
        "build_id": own[-number] if number < PANELS else None,
        "lost_reason": "",
    }
