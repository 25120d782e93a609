"""Two measurements of one photo side by side: how they were set, and how their figures differ."""

from collections.abc import Iterator

from defectlog.measure.hand_set import threshold_words
from defectlog.records import Measurement
from defectlog.units import figure, measured_percent, plural, with_unit

_LOOKS = {"dark": "dark voids only", "bright": "bright voids only"}


def differs_words(other: Measurement, latest: Measurement) -> str:
    """How a measurement differs from the latest of its photo, in one sentence."""
    unlike = list(_settings(other, latest))
    settings = (
        f"Unlike the latest it {_joined(unlike)}" if unlike else "It was set just as the latest"
    )
    return f"{settings}; {_figures(other, latest)}."


def other_scale_words(measured: Measurement) -> str | None:
    """That the photo has been given another scale since, and what to do; None if it has not."""
    now = measured.photo.scale.px_per_mm if measured.photo.scale else None
    then = measured.scale.px_per_mm if measured.scale else None
    if now == then:
        return None
    if then is None:
        return "This was measured before the photo had a scale: measure again for sizes in mm."
    words = f"Sizes are by {_px_per_mm(measured)} that the photo had then"
    if now is None:
        return f"{words}; it was taken back since."
    return f"{words}: measure again for sizes by the present one."


def _settings(other: Measurement, latest: Measurement) -> Iterator[str]:
    if other.region != latest.region:
        if other.region is None:
            yield "took in the whole photo"
        elif latest.region is None:
            yield "kept to a region"
        else:
            yield "kept to another region"
    if (asked := other.settings.get("look")) != latest.settings.get("look"):
        yield f"looked for {_LOOKS.get(str(asked), 'dark or bright by itself')}"
    if (own := other.settings.get("threshold")) != latest.settings.get("threshold"):
        yield (
            f"had its threshold set by hand, {threshold_words(own, other.look)}"
            if own
            else "found the threshold by itself"
        )
    if (out := other.settings.get("leave_out", [])) != latest.settings.get("leave_out", []):
        yield f"left out {_areas(out, latest.settings.get('leave_out', []))}"
    if (least := other.settings.get("smallest_mm")) != latest.settings.get("smallest_mm"):
        yield (
            f"counted voids from {with_unit(least, 'mm')}"
            if least
            else "counted every void the photo can show"
        )
    if other.scale_id != latest.scale_id and _px_per_mm(other) != _px_per_mm(latest):
        yield f"went by {_px_per_mm(other)}"
    if other.version != latest.version:
        yield f"was made by method version {other.version}"


def _figures(other: Measurement, latest: Measurement) -> str:
    if other.void_fraction == latest.void_fraction and other.count == latest.count:
        return "its figures are the same"
    share = (
        f"{measured_percent(other.void_fraction)} against {measured_percent(latest.void_fraction)}"
    )
    counts = f"{plural(other.count, 'void')} against {figure(latest.count, 6)}"
    overlap = (
        other.void_fraction_low <= latest.void_fraction_high
        and latest.void_fraction_low <= other.void_fraction_high
    )
    intervals = "overlap" if overlap else "do not overlap"
    return f"it found {share} and {counts}, and the measuring intervals {intervals}"


def _areas(own: list[object], latest: list[object]) -> str:
    """How many areas were left out; others than the latest, if they are as many."""
    if not own:
        return "nothing"
    if len(own) == len(latest):
        return "another area" if len(own) == 1 else f"{len(own)} areas, not all the same"
    return plural(len(own), "area")


def _px_per_mm(measured: Measurement) -> str:
    scale = measured.scale
    if scale is None or scale.px_per_mm is None:
        return "no scale"
    return f"a scale of {with_unit(scale.px_per_mm, 'px/mm', 4)}"


def _joined(words: list[str]) -> str:
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"
