"""What the voids of a measurement are like together: sizes, kinds by shape, how they lie."""

import statistics
from collections import Counter
from collections.abc import Mapping
from typing import Any

from defectlog.measure.figures.result import VoidMeasurement
from defectlog.measure.figures.size_bins import size_bins
from defectlog.records import Measurement
from defectlog.units import figure, with_unit

FEWEST = 5  # voids; of fewer each can be looked at
KINDS = {
    "pinhole": ("pinhole", "pinholes"),
    "dry patch": ("dry patch", "dry patches"),
    "line": ("line", "lines"),
    "along a tow": ("long along a tow", "long along a tow"),
}
LYING = {
    "scattered": "They lie scattered, as chance would have it",
    "gathered": "They lie gathered in places",
    "in lines": "They lie in lines",
    "on the weave's pitch": "They lie at the weave's own pitch: look whether they are its gaps",
    "evenly spread": "They lie further apart than chance would have it",
}


def shapes_json(measured: VoidMeasurement) -> dict[str, Any]:
    """What is kept of it with the result of a measurement."""
    return {
        "kinds": dict(Counter(void.kind for void in measured.voids)),
        "arrangement": measured.arrangement,
        "weave_deg": measured.weave_deg,
    }


def shape_words(row: Measurement) -> list[str]:
    """A sentence each on sizes, kinds and how voids lie; none for what was not kept or is few."""
    result: Mapping[str, Any] = row.result or {}
    said = [_sizes(result)] if row.count >= FEWEST and result.get("diameters_px") else []
    kinds = result.get("kinds") or {}
    if kinds:
        counted = [
            f"{figure(count, 6)} {KINDS[kind][count != 1]}"
            for kind, count in sorted(kinds.items(), key=lambda pair: (-pair[1], pair[0]))
            if kind in KINDS
        ]
        said.append(f"By shape: {', '.join(counted)}")
    if (lying := LYING.get(str(result.get("arrangement")))) is not None:
        said.append(lying)
    return said


def size_rows(row: Measurement) -> list[dict[str, Any]]:
    """How many voids of each size, for a table; ``share`` is of the fullest row. None of few."""
    result: Mapping[str, Any] = row.result or {}
    if row.count < FEWEST or not result.get("diameters_px"):
        return []
    unit, sizes = _diameters(result)
    bins = size_bins(sizes)
    most = max(one.count for one in bins)
    return [
        {
            "size_words": f"{figure(one.low, 2)} to {with_unit(one.high, unit, 2)}",
            "count_words": figure(one.count, 6),
            "share": one.count / most,
        }
        for one in bins
    ]


def _diameters(result: Mapping[str, Any]) -> tuple[str, list[float]]:
    unit = "px" if result.get("diameters_mm") is None else "mm"
    return unit, [float(size) for size in result[f"diameters_{unit}"]]


def _sizes(result: Mapping[str, Any]) -> str:
    unit, sizes = _diameters(result)
    ninth = statistics.quantiles(sizes, n=10, method="inclusive")[-1]
    return (
        f"Half of them below {with_unit(statistics.median(sizes), unit, 2)} across, nine in ten "
        f"below {with_unit(ninth, unit, 2)}"
    )
