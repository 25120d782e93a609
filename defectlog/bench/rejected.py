"""What a measurement looked at and did not count: kept with it, and said with its reason."""

from collections import Counter
from dataclasses import dataclass
from typing import Any

from defectlog.bench.sizes import read_scale
from defectlog.measure.figures.result import VoidMeasurement
from defectlog.measure.outlines.judging import MOST
from defectlog.records import Measurement
from defectlog.units import plural, with_unit


@dataclass(frozen=True, slots=True)
class Turned:
    """One spot that was turned away: where in the photo, its radius in px, and the words for it."""

    x: float
    y: float
    r_px: float
    words: str
    why: str


@dataclass(frozen=True, slots=True)
class TurnedAway:
    """All spots a measurement kept, and how many of them each reason took, the most first."""

    spots: tuple[Turned, ...]
    reasons: tuple[tuple[str, str], ...]

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self.spots)


def rejected_json(measured: VoidMeasurement) -> list[dict[str, Any]]:
    """The spots as they are kept with the result of a measurement."""
    return [
        {"x": round(one.x, 1), "y": round(one.y, 1), "d_px": round(one.d_px, 2), "why": one.why}
        for one in measured.rejected
    ]


def rejected_of(measured: Measurement) -> TurnedAway | None:
    """What a measurement turned away; None if it was made before that was kept."""
    kept = measured.result.get("rejected")
    if kept is None:
        return None
    scale = None if measured.scale is None else read_scale(measured.scale)
    spots = []
    for one in kept:
        x, y, d_px, why = float(one["x"]), float(one["y"]), float(one["d_px"]), str(one["why"])
        per_mm = None if scale is None else scale.px_per_mm_at(x, y)
        spots.append(Turned(x, y, d_px / 2, f"{_size_words(d_px, per_mm)} across", why))
    counts = Counter(spot.why for spot in spots)
    return TurnedAway(
        tuple(spots), tuple((why, plural(count, "spot")) for why, count in counts.most_common())
    )


def _size_words(d_px: float, per_mm: float | None) -> str:
    """How wide a spot is; of one that is less than a pixel the photo can tell no more than that."""
    if d_px < 1:
        return f"under {with_unit(1, 'px')}"
    return with_unit(d_px, "px", 2) if per_mm is None else with_unit(d_px / per_mm, "mm", 2)


def rejected_words(measured: Measurement) -> dict[str, Any]:
    """What a measurement turned away, as plain values for the photo room."""
    turned = rejected_of(measured)
    if turned is None:
        return {"words": "This measurement was made before it was kept. Measure again to see it."}
    words = f"{plural(turned.count, 'spot')} looked at and not counted"
    if turned.count >= MOST:
        words = f"The {MOST} largest spots looked at and not counted; smaller ones are not kept"
    return {
        "words": f"{words}." if turned.count else "Nothing else stood out from this surface.",
        "spots": [
            {"x": s.x, "y": s.y, "r_px": s.r_px, "words": s.words, "why": s.why}
            for s in turned.spots
        ],
        "reasons": [{"why": why, "count_words": count} for why, count in turned.reasons],
    }
