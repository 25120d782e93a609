"""What a void measurement says: the voids, their fraction, how sure, and what to beware of."""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from typing import Any, NamedTuple

from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.arrays.look import Look
from defectlog.measure.figures.arrangement import Arrangement, Kind
from defectlog.measure.outlines.shapes import ShapeWord
from defectlog.units import measured_percent, percent_range, plural, with_unit

# Raised whenever the same picture could give another figure than before.
METHOD_VERSION = "19"


class Void(NamedTuple):
    """One void: centre (column, row) in pixels of the upright picture, and its size.

    A tuple with names, for a picture has thousands: dataclasses take ten times as long to make.

    ``d`` is the diameter of the circle of the same area, ``longest`` the largest distance
    across, ``direction_deg`` that of the long axis, anticlockwise from the row. ``kind`` is
    what the shape proposes, ``aspect`` length over breadth, ``to_weave_deg`` the angle to the
    nearer family of tows (0–45, None if there is no weave to be seen), ``edge_px`` the way to
    the edge of the inspected surface. The mm figures are None without a scale.
    """

    x: float
    y: float
    d_px: float
    d_mm: float | None
    area_px: float
    area_mm2: float | None
    shape: ShapeWord
    longest_px: float
    longest_mm: float | None
    direction_deg: float
    kind: Kind
    aspect: float
    to_weave_deg: float | None
    edge_px: float
    edge_mm: float | None

    def as_json(self) -> dict[str, Any]:
        """The void as the command line writes it."""
        keys = ("x", "y", "d_px", "d_mm", "area_px", "area_mm2", "shape")
        return {key: getattr(self, key) for key in keys}


@dataclass(frozen=True, slots=True)
class Rejected:
    """A candidate that was not counted: where, how large, and why, in plain words."""

    x: float
    y: float
    d_px: float
    why: str


@dataclass(frozen=True, slots=True)
class VoidMeasurement:
    """One run of void measurement on one picture.

    Fractions are 0–1 of the inspected surface. ``void_fraction_low`` and ``_high`` are the
    95 % interval of measuring: where the outline of a void is set, and what no picture
    shows. ``spread_low`` and ``spread_high`` answer another question, how the fraction of
    the whole part may differ if this surface is a sample of it (fields in the manner of
    ASTM E562); the two are never mixed. ``not_inspected_fraction`` is the share of the
    region (without a scale card) lost to glare, or to dyed yarn on which voids would not show.

    ``threshold`` is the contrast from which a pixel starts a void, as a share of the light
    of the surface around it. ``clustering`` is the Clark–Evans index (below 1 clustered),
    ``clustering_word`` its reading at the 5 % level. ``largest_mm`` is the largest of
    ``diameters_mm``. ``rejected`` are the largest 500 of the candidates judged not to be voids
    or left out for their size. ``arrangement`` says in words how voids lie to each other (None
    for fewer than twelve), ``weave_deg`` is the direction of a family of tows. The masks are
    as large as the picture and not part of the JSON.
    """

    width_px: int
    height_px: int
    px_per_mm: float | None
    scale_source: str
    scale_uncertainty_pct: float | None
    inspected_mm2: float | None
    inspected_px: int
    not_inspected_fraction: float
    void_fraction: float
    void_fraction_low: float
    void_fraction_high: float
    count: int
    density_per_cm2: float | None
    voids: tuple[Void, ...]
    diameters_mm: tuple[float, ...] | None
    diameters_px: tuple[float, ...]
    largest_mm: float | None
    clustering: float | None
    look: Look | None
    threshold: float | None
    settings: dict[str, Any]
    warnings: tuple[str, ...]
    version: str
    seconds: float = field(compare=False)
    clustering_word: str | None
    spread_low: float | None
    spread_high: float | None
    rejected: tuple[Rejected, ...]
    arrangement: Arrangement | None
    weave_deg: float | None
    voids_mask: BoolImage = field(compare=False, repr=False)
    inspected_mask: BoolImage = field(compare=False, repr=False)

    @property
    def density_uncertainty_pct(self) -> float | None:
        """Half-width of the 95 % interval of the density, for what the scale leaves unsure."""
        known = self.scale_uncertainty_pct is not None and self.density_per_cm2 is not None
        return 2 * self.scale_uncertainty_pct if known else None

    @property
    def is_sound(self) -> bool:
        """Whether no void was found."""
        return self.count == 0

    def as_json(self) -> dict[str, Any]:
        """The measurement as one JSON object; the caller adds the image's name."""
        left_out = {
            "clustering_word",
            "spread_low",
            "spread_high",
            "rejected",
            "arrangement",
            "weave_deg",
            "voids_mask",
            "inspected_mask",
        }
        plain = {f.name: getattr(self, f.name) for f in fields(self) if f.name not in left_out}
        plain["voids"] = [void.as_json() for void in self.voids]
        for name in ("diameters_mm", "diameters_px", "warnings"):
            plain[name] = None if plain[name] is None else list(plain[name])
        plain["settings"] = dict(self.settings)
        return plain

    def in_words(self) -> str:
        """The measurement in a sentence or two."""
        bounds = percent_range(self.void_fraction_low, self.void_fraction_high)
        least = smallest_counted_mm(self.settings, has_scale=self.px_per_mm is not None)
        of = f" from {with_unit(least, 'mm')}" if least else ""
        if self.is_sound:
            most = measured_percent(self.void_fraction_high)
            return f"No voids{of} found; up to {most} may have been missed."
        share = measured_percent(self.void_fraction)
        words = [
            f"{plural(self.count, 'void')}{of}, {share} of the inspected surface "
            f"(95 % interval {bounds})."
        ]
        if self.largest_mm is not None:
            words.append(f"The largest is {with_unit(self.largest_mm, 'mm', 2)} across.")
        return " ".join(words)


def smallest_counted_mm(settings: Mapping[str, Any], *, has_scale: bool) -> float | None:
    """From how many mm on voids count, by the settings of a measurement; None if all do.

    Without a scale none could be left out for its size, whatever was asked for.
    """
    least = settings.get("smallest_mm")
    return float(least) if least and has_scale else None
