"""A row or more for each table of the records, of any step of the schema.

A new table needs one here: ``test_every_step.py`` fails for a step that leaves one empty.
"""

from datetime import datetime
from typing import Any

from sqlalchemy import MetaData, select

from defectlog.records.session import Records
from tests.builders import NOON

DAY = {"at": NOON}

# One row or more for each table, in the order they refer to each other; columns that a step does
# not have yet are left out there.
ROWS: tuple[tuple[str, dict[str, Any]], ...] = (
    ("workshop", {"id": 1, "name": "Heron Slip", "uid": "a1b2"}),
    ("saved_form", {"token": "t-1", "target": "/builds/7", **DAY}),
    (
        "part",
        {
            "id": 1,
            "name": "Locker door",
            "drawing_ref": "LD-2",
            "mould": "mould 2",
            "target_mass_g": 812.3456789012345,
            "laminate_plan": "4 × 200 g/m², “±45”",
        },
    ),
    ("part_limit", {"id": 1, "part_id": 1, "kind": "dry-spot", "largest_mm": 0.1}),
    (
        "build",
        {"id": 7, "part_id": 1, "started_at": NOON, "released_at": NOON, "note": "first\nsecond"},
    ),
    ("build_fact", {"id": 1, "build_id": 7, "name": "cure_c", "value": 21.5, **DAY}),
    ("build_fact", {"id": 2, "build_id": 7, "name": "degassed", "value": False, **DAY}),
    ("build_fact", {"id": 3, "build_id": 7, "name": "plies", "value": [{"a": 1.25}], **DAY}),
    (
        "photo",
        {
            "id": 9,
            "build_id": 7,
            "sha256": "ab" * 32,
            "name": "tool.jpg",
            "media_type": "image/jpeg",
            "bytes": 1000,
            "width_px": 400,
            "height_px": 300,
            "face": "tool side",
            "stage": "at demould",
            "note": "",
            "received_at": NOON,
        },
    ),
    (
        "photo_scale",
        {
            "id": 4,
            "photo_id": 9,
            "source": "card",
            "px_per_mm": 12.345678901234567,
            "homography": [[1.0, 0.0, 0.5]],
            "card_outlines": [],
            "warnings": ["tilt"],
            "print_pct": 0.4,
            **DAY,
        },
    ),
    (
        "finding",
        {
            "id": 3,
            "build_id": 7,
            "kind": "dry-spot",
            "note": "low corner",
            "opened_at": NOON,
            "outcome": "repair",
            "reason": "sanded",
            "closed_at": NOON,
        },
    ),
    (
        "mark",
        {
            "id": 5,
            "photo_id": 9,
            "finding_id": 3,
            "shape": "line",
            "points": [[1.5, 2], [3, 4]],
            "client_id": "c-1",
            "drawn_at": NOON,
        },
    ),
    (
        "measurement",
        {
            "id": 6,
            "photo_id": 9,
            "scale_id": 4,
            "version": "0.1.0",
            "region": [[0, 0], [9, 0], [9, 9]],
            "settings": {"look": "auto"},
            "void_fraction": 0.012345678901234567,
            "void_fraction_low": 0.01,
            "void_fraction_high": 0.02,
            "count": 3,
            "inspected_px": 100,
            "not_inspected_fraction": 0.0,
            "warnings": [],
            "seconds": 0.5,
            "result": {"voids": []},
            "voids_png": b"\x89PNG\x00\xff",
            "inspected_png": b"",
            **DAY,
        },
    ),
    (
        "cause_verdict",
        {"id": 1, "finding_id": 3, "cause": "gelled", "is_confirmed": True, "seen": "pot", **DAY},
    ),
    ("fix_done", {"id": 1, "finding_id": 3, "words": "Sanded back", "minutes": 35.0, **DAY}),
    (
        "lesson",
        {
            "id": 2,
            "part_id": 1,
            "finding_id": 3,
            "words": "Vent at the low corner",
            "state": "kept",
            "reason": "",
            "written_at": NOON,
        },
    ),
    ("lesson_use", {"id": 1, "lesson_id": 2, "build_id": 7, "is_applied": True, **DAY}),
    ("elsewhere", {"id": 1, "uid": "s-1", "name": "Tern Quay", "imported_at": NOON}),
    (
        "elsewhere_count",
        {
            "id": 1,
            "elsewhere_id": 1,
            "about": "fix held",
            "kind": "dry-spot",
            "key": "fill",
            "count": 2,
            "cases": 3,
        },
    ),
    (
        "house_note",
        {"id": 1, "uid": "n-1", "kind": "dry-spot", "words": "Look low.", "written_at": NOON},
    ),
    (
        "own_kind",
        {
            "id": 1,
            "key": "own-kelp",
            "code": "KP",
            "title": "Kelp print",
            "look": "Green.",
            "definition": "Weed.",
            "answers": {"face": ["tool"]},
            "written_at": NOON,
        },
    ),
    (
        "own_cause",
        {
            "id": 1,
            "kind": "own-kelp",
            "key": "own-tide",
            "title": "Tide",
            "why": "",
            "check_do": "",
            "check_positive": "",
            "prevention": "",
            "written_at": NOON,
        },
    ),
    (
        "check_done",
        {"id": 1, "finding_id": 3, "check_key": "pot", "is_positive": False, "seen": "", **DAY},
    ),
    ("print_check", {"id": 4, "across_mm": 120.5, "down_mm": 120.25, **DAY}),
    (
        "trial",
        {
            "id": 1,
            "part_id": 1,
            "question": "Does the veil help?",
            "fact": "surface_veil",
            "settings": [False, True],
            "result": "mass",
            "surface": "bag-peeled",
            "smallest_difference": 2.5,
            "per_setting": 2,
            "seed": 7,
            "by_day": False,
            "planned_words": "",
            "planned_at": NOON,
            "state": "running",
            "stopped_reason": "",
        },
    ),
    (
        "trial_run",
        {
            "id": 1,
            "trial_id": 1,
            "number": 1,
            "setting": 1,
            "block": 1,
            "build_id": 7,
            "lost_reason": "",
        },
    ),
    ("trial_look", {"id": 1, "trial_id": 1, "panels_in": 1, **DAY}),
    (
        "decision",
        {"id": 1, "finding_id": 3, "outcome": "repair", "reason": "sanded", "by": "x", **DAY},
    ),
    ("passphrase", {"id": 1, "scrypt": "scrypt$x", **DAY}),
    (
        "device",
        {
            "id": 1,
            "name": "Phone by the oven",
            "role": "maker",
            "came_by": "by pairing",
            "key_sha256": "cd" * 32,
            "came_at": NOON,
            "last_seen_at": NOON,
            "until": datetime(2027, 1, 1, tzinfo=NOON.tzinfo),
        },
    ),
    (
        "pairing_code",
        {
            "id": 1,
            "picture_sha256": "ef" * 32,
            "typed_sha256": "01" * 32,
            "role": "reader",
            "made_at": NOON,
            "until": datetime(2026, 3, 2, 12, 5, tzinfo=NOON.tzinfo),
            "used_at": NOON,
            "name": "Bench tablet",
            "address": "192.168.1.77",
            "shown": "0482",
            "waiting_sha256": "23" * 32,
            "allowed_at": NOON,
            "device_id": 1,
        },
    ),
    ("failed_try", {"id": 1, "zone": "192.168.1", **DAY}),
    (
        "own_fix",
        {
            "id": 1,
            "kind": "own-kelp",
            "key": "own-scrub",
            "title": "Scrub",
            "outcome": "rework",
            "steps": [{"do": "Scrub it."}],
            "not_when": "",
            "reinspect": "",
            "time": "",
            "written_at": NOON,
        },
    ),
    (
        "later_look",
        {"id": 1, "mark_id": 5, "photo_id": 9, "said": "gone", "by": "this PC", **DAY},
    ),
    ("kept_set", {"id": 1, "name": "Summer, “warm”", **DAY}),
    ("kept_set_build", {"set_id": 1, "build_id": 7}),
)


def tables_of(records: Records) -> MetaData:
    tables = MetaData()
    tables.reflect(records.engine)
    return tables


def fill(records: Records) -> None:
    tables = tables_of(records)
    lite = records.engine.dialect.name == "sqlite"
    with records.engine.begin() as connection:
        for name, values in ROWS:
            if name not in tables.tables:
                continue
            table = tables.tables[name]
            row = {
                key: value.replace(tzinfo=None) if lite and isinstance(value, datetime) else value
                for key, value in values.items()
                if key in table.columns
            }
            connection.execute(table.insert(), row)


def rows_of(records: Records) -> dict[str, list[dict[str, Any]]]:
    tables = tables_of(records)
    with records.engine.connect() as connection:
        return {
            table.name: [
                dict(row)
                for row in connection.execute(
                    select(table).order_by(*table.primary_key.columns)
                ).mappings()
            ]
            for table in tables.sorted_tables
            if table.name != "alembic_version"
        }
