"""Seals: a sum over all that a measurement says, so that a later change of it shows."""

import hashlib
import json
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import event

from defectlog.records.measurements import Measurement

# The columns a seal covers. A column added later is not covered: seals already made must hold.
SEALED = (
    "photo_id",
    "scale_id",
    "at",
    "by",
    "version",
    "region",
    "settings",
    "look",
    "threshold",
    "void_fraction",
    "void_fraction_low",
    "void_fraction_high",
    "spread_low",
    "spread_high",
    "count",
    "density_per_cm2",
    "largest_mm",
    "largest_px",
    "clustering",
    "inspected_px",
    "inspected_mm2",
    "not_inspected_fraction",
    "warnings",
    "seconds",
    "result",
    "voids_png",
    "inspected_png",
)


def seal_of(row: Mapping[str, Any]) -> str:
    """The SHA-256, in hex, over the columns of a measurement; the same on every database."""
    said = {name: _plain(row[name]) for name in SEALED}
    return hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat(timespec="microseconds")
    if isinstance(value, (bytes, memoryview)):
        return hashlib.sha256(bytes(value)).hexdigest()
    # 3.0 comes back from a whole-number column as 3; a float column may hand out either.
    if isinstance(value, int) and not isinstance(value, bool):
        return float(value)
    if isinstance(value, Mapping):
        return {str(key): _plain(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(inner) for inner in value]
    return value


@event.listens_for(Measurement, "before_insert")
def _seal(_mapper: object, _connection: object, target: Measurement) -> None:
    if target.by is None:
        target.by = ""
    target.seal = seal_of({name: getattr(target, name) for name in SEALED})
