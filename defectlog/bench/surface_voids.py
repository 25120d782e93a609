"""Which measurements stand for a build: one surface at one stage, its photos pooled by area."""

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sqlalchemy import ColumnElement, func, select
from sqlalchemy.orm import Session

from defectlog.bench.bench_in_view import shows_bench
from defectlog.charts.change import LEAST_FOR_LIMITS
from defectlog.measure.figures.result import smallest_counted_mm
from defectlog.records import Build, Face, Measurement, Photo, PhotoStage

_NORMAL_95 = 1.96


@dataclass(frozen=True, slots=True)
class Surface:
    """One face at one stage: what is compared from build to build."""

    face: Face
    stage: PhotoStage

    @property
    def key(self) -> str:
        """As it stands in an address: ``tool-demould``."""
        return f"{self.face.name}-{self.stage.name}".lower()

    @property
    def words(self) -> str:
        return f"{self.face.value} {self.stage.value}"


# In the order in which they are looked for. A repaired surface says nothing of how it was made.
SURFACES = tuple(
    Surface(face, stage)
    for face in Face
    for stage in PhotoStage
    if stage is not PhotoStage.REPAIRED
)


@dataclass(frozen=True, slots=True)
class SurfaceVoids:
    """Void fraction, 0–1, of one surface of one build, with its interval.

    ``spread`` is how far another piece of the same surface may lie from it (95 %); ``low`` and
    ``high`` allow for that and for the measuring. All are None if a photo has no spread.
    ``photos`` are pooled by inspected area; ``inspected_mm2`` is None when one of them has no
    scale, and then they are pooled by pixels. ``count`` is of all voids found, ``largest_mm`` the
    longest of them: 0 when nothing was found, None when a photo with voids has no scale.
    ``from_mm`` is the smallest void that counts, where that was asked of a photo, else 0.
    """

    value: float
    spread: float | None
    low: float | None
    high: float | None
    photos: int
    inspected_mm2: float | None
    count: int
    largest_mm: float | None
    from_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class _Measured:
    value: float
    low: float
    high: float
    spread_low: float | None
    spread_high: float | None
    px: int
    count: int
    largest_mm: float | None
    mm2: float | None
    from_mm: float


def surface_voids(session: Session, part_id: int) -> dict[Surface, dict[int, SurfaceVoids]]:
    """Void fractions of a part's builds: by surface, then by number of the build.

    Of each photo only the measurement in force counts. Deleted photos do not count, nor figures
    that took the bench for a void.
    """
    return voids_by_surface(session, Build.part_id == part_id)


def voids_by_surface(
    session: Session, builds: ColumnElement[bool]
) -> dict[Surface, dict[int, SurfaceVoids]]:
    """The same of any builds: ``builds`` is a condition on them."""
    # Asked column by column: the masks of a measurement are large, and none is needed here.
    newest = (
        select(func.max(Measurement.id))
        .join(Photo, Measurement.photo_id == Photo.id)
        .join(Build, Photo.build_id == Build.id)
        .where(builds, Photo.deleted_at.is_(None))
        .group_by(Measurement.photo_id)
    )
    rows = session.execute(
        select(
            Photo.build_id,
            Photo.face,
            Photo.stage,
            Measurement.void_fraction,
            Measurement.void_fraction_low,
            Measurement.void_fraction_high,
            Measurement.spread_low,
            Measurement.spread_high,
            Measurement.inspected_px,
            Measurement.count,
            Measurement.largest_mm,
            Measurement.inspected_mm2,
            Measurement.settings,
            Measurement.region,
            Measurement.warnings,
        )
        .join(Photo, Measurement.photo_id == Photo.id)
        .where(Measurement.id.in_(newest))
    )
    found: dict[Surface, dict[int, list[_Measured]]] = defaultdict(lambda: defaultdict(list))
    for build_id, face, stage, *figures, mm2, settings, region, warnings in rows:
        if shows_bench(region, warnings):
            continue
        least = smallest_counted_mm(settings, has_scale=bool(mm2)) or 0.0
        found[Surface(face, stage)][build_id].append(_Measured(*figures, mm2, least))
    return {
        surface: {number: pool(measured) for number, measured in found[surface].items()}
        for surface in SURFACES
        if surface in found
    }


def pool(measured: Iterable[_Measured]) -> SurfaceVoids:
    """Join the photos of one surface.

    The ends of the measuring interval are pooled like the value, as if the photos erred together:
    they share the light, the surface and the threshold, so nothing is gained by their number. It
    is joined with the spread in root-sum-square.
    """
    photos = list(measured)
    areas = [photo.mm2 for photo in photos if photo.mm2]
    has_scale = len(areas) == len(photos)
    weights = areas if has_scale else [float(photo.px) for photo in photos]
    total = sum(weights)

    def mean(values: Iterable[float]) -> float:
        return sum(v * w for v, w in zip(values, weights, strict=True)) / total

    value = mean(photo.value for photo in photos)
    spread = _spread(photos, [weight / total for weight in weights], value)
    low, high = None, None
    if spread is not None:
        low = max(0.0, value - math.hypot(spread, value - mean(photo.low for photo in photos)))
        high = min(1.0, value + math.hypot(spread, mean(photo.high for photo in photos) - value))
    return SurfaceVoids(
        value=value,
        spread=spread,
        low=low,
        high=high,
        photos=len(photos),
        inspected_mm2=total if has_scale else None,
        count=sum(photo.count for photo in photos),
        largest_mm=_largest(photos),
        from_mm=max(photo.from_mm for photo in photos),
    )


def _spread(photos: list[_Measured], shares: list[float], value: float) -> float | None:
    """How far another piece of the surface may lie from the mean of these photos, 95 %.

    By what the fields of each photo differ by, or by what the photos do, if that is more: theirs is
    the spread of a ratio, as that of fields is (Cochran, Sampling Techniques, 3rd ed. 1977, ch. 6).
    """
    fields = []
    for photo, share in zip(photos, shares, strict=True):
        if photo.spread_low is None or photo.spread_high is None:
            return None
        reach = max(photo.spread_high - photo.value, photo.value - photo.spread_low)
        fields.append(share * reach)
    of_fields = math.hypot(*fields)
    if len(photos) == 1:
        return of_fields
    off = (share * (p.value - value) for p, share in zip(photos, shares, strict=True))
    return max(
        of_fields, _NORMAL_95 * math.hypot(*off) * math.sqrt(len(photos) / (len(photos) - 1))
    )


def _largest(photos: Iterable[_Measured]) -> float | None:
    """Nothing found is 0 mm; found but without a scale is nobody knows."""
    sizes = [0.0 if photo.count == 0 else photo.largest_mm for photo in photos]
    known = [size for size in sizes if size is not None]
    return max(known) if len(known) == len(sizes) else None


def choose_surface(
    measured: Mapping[Surface, Mapping[int, SurfaceVoids]], wanted: str = ""
) -> Surface | None:
    """The surface asked for by its key, else the first in order with enough builds.

    The order begins with the tool side at demould. With few builds on every surface it is the
    one with most; None when nothing was measured.
    """
    asked = next((surface for surface in measured if surface.key == wanted), None)
    ripe = (surface for surface in measured if len(measured[surface]) >= LEAST_FOR_LIMITS)
    fullest = max(measured, key=lambda surface: len(measured[surface]), default=None)
    return asked or next(ripe, fullest)
