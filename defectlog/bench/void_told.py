"""What one void of a measurement is like, in words: for whoever points at it on the photo."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from defectlog.bench.shape_words import KINDS
from defectlog.measure.figures.result import VoidMeasurement
from defectlog.records import Measurement
from defectlog.units import figure, with_unit


def each_json(measured: VoidMeasurement) -> dict[str, list[Any]]:
    """What is kept of every void beside its place and size, in the order of the voids."""
    voids = measured.voids
    return {
        "longest_px": [round(void.longest_px, 1) for void in voids],
        "aspect": [round(void.aspect, 2) for void in voids],
        "direction_deg": [round(void.direction_deg) for void in voids],
        "to_weave_deg": [
            None if void.to_weave_deg is None else round(void.to_weave_deg) for void in voids
        ],
        "edge_px": [round(void.edge_px) for void in voids],
        "kind": [void.kind for void in voids],
    }


def void_at(measured: Measurement, x: float, y: float, reach_px: float) -> dict[str, Any] | None:
    """The void at a place of the photo, or the nearest within reach; None if there is none."""
    voids = _voids(measured)
    away = [math.hypot(void["x"] - x, void["y"] - y) - void["d_px"] / 2 for void in voids]
    at = min(range(len(voids)), key=away.__getitem__, default=None)
    # Whatever is no number is not within reach either.
    return None if at is None or not away[at] <= reach_px else _void(measured, at)


def void_by_size(measured: Measurement, rank: int) -> dict[str, Any] | None:
    """The largest void for ``rank`` 1, the next one for 2; None where there are not so many."""
    order = _by_size(_voids(measured))
    return _void(measured, order[rank - 1]) if 0 < rank <= len(order) else None


def _voids(measured: Measurement) -> Sequence[Mapping[str, Any]]:
    result: Mapping[str, Any] = measured.result or {}
    return result.get("voids") or []


def _by_size(voids: Sequence[Mapping[str, Any]]) -> list[int]:
    """Which voids there are, the largest first: in mm, for one that is far away shows smaller."""
    return sorted(range(len(voids)), key=lambda at: -(voids[at]["d_mm"] or voids[at]["d_px"]))


def _void(measured: Measurement, at: int) -> dict[str, Any]:
    """One void: its place, its radius in px, which it is by size, and the words for it.

    ``Counted: pinhole, 0.8 mm across, 14 mm from the edge of the inspected surface. By size it is
    void 3 of 40.``
    """
    voids = _voids(measured)
    void, rank = voids[at], _by_size(voids).index(at) + 1
    each = measured.result.get("each")
    one = None if each is None else {name: values[at] for name, values in each.items()}
    words = f"Counted: {', '.join(_told(void, one))}."
    if len(voids) > 1:
        words += f" By size it is void {figure(rank, 6)} of {figure(len(voids), 6)}."
    return {"x": void["x"], "y": void["y"], "r_px": void["d_px"] / 2, "rank": rank, "words": words}


def _told(void: Mapping[str, Any], one: Mapping[str, Any] | None) -> list[str]:
    unit = "px" if void["d_mm"] is None else "mm"
    in_unit = 1.0 if void["d_mm"] is None else void["d_mm"] / void["d_px"]
    across = f"{with_unit(void['d_px'] * in_unit, unit, 2)} across"
    if one is None:  # measured before more was kept
        return [f"{void['shape']}, {across}"]
    told = [KINDS[one["kind"]][0], across]
    if void["shape"] == "long":
        told.append(f"{with_unit(one['longest_px'] * in_unit, unit, 2)} long")
        if one["to_weave_deg"] is not None:
            told.append(f"{figure(one['to_weave_deg'])}° off the tows")
    edge = with_unit(one["edge_px"] * in_unit, unit, 2)
    return [*told, f"{edge} from the edge of the inspected surface"]
