"""Give a photo its scale, and measure the voids on it."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from defectlog.bench.findings import find_photo
from defectlog.bench.mark_points import check_points
from defectlog.bench.overlay import mask_to_png
from defectlog.bench.print_check import scale_row
from defectlog.bench.rejected import rejected_json
from defectlog.bench.shape_words import shapes_json
from defectlog.bench.sizes import scale_of
from defectlog.bench.void_told import each_json
from defectlog.bench.who import who_writes
from defectlog.errors import FieldError, NotFoundError
from defectlog.measure.hand_set import LEAST, MOST
from defectlog.measure.lengths.markers import find_card
from defectlog.measure.lengths.scale import POINTING_PX, Scale, scale_from_points
from defectlog.measure.voids import VoidMeasurement, measure_voids
from defectlog.photos.renditions import PhotoStore
from defectlog.records import Measurement, Photo, PhotoScale, Shape
from defectlog.units import percent, with_unit

Point = tuple[float, float]
LOOKS = ("auto", "dark", "bright")
MOST_LEFT_OUT = 30
LEAST_LENGTH_MM, MOST_LENGTH_MM = 0.1, 20_000  # of what two tapped points can be apart on a part


class NoCardError(FieldError):
    """No scale card of ours could be found on the photo."""

    def __init__(self) -> None:
        super().__init__(
            "find_card",
            "No scale card was found on this photo",
            "tap two points and type their distance, or take the photo again with the card "
            "flat on the surface, whole and in focus",
        )


def set_scale(session: Session, photo: Photo, scale: Scale, at: datetime) -> PhotoScale:
    """Put a scale in force on a photo; the earlier ones stay on record."""
    row = scale_row(session, scale, at)
    photo.scales.append(row)
    return row


def scale_by_points(
    session: Session,
    number: int,
    points: Sequence[Point],
    length_mm: float,
    at: datetime,
    *,
    pointing_px: float | None = None,
) -> PhotoScale:
    """Scale a photo by two tapped points and their distance in mm.

    ``pointing_px`` is how far off each may be, if that is known to be more than
    ``POINTING_PX``: from far away a finger covers many pixels of the photo.
    """
    photo = find_photo(session, number)
    if len(points) != 2:
        raise FieldError("points", "A scale needs two points", "tap both ends of a known length")
    if points[0] == points[1]:
        raise FieldError(
            "points", "The two points are the same place", "tap both ends of a known length"
        )
    check_points(Shape.LINE, points, photo)
    p, q = points
    if pointing_px is None or not pointing_px > POINTING_PX:
        pointing_px = POINTING_PX
    scale = scale_from_points(p, q, length_mm, pointing_px=pointing_px)
    if not LEAST_LENGTH_MM <= length_mm <= MOST_LENGTH_MM:
        raise FieldError(
            "length_mm",
            f"A length of {with_unit(length_mm, 'mm')} is no distance on a part",
            f"enter millimetres, {LEAST_LENGTH_MM} to {MOST_LENGTH_MM}",
        )
    row = set_scale(session, photo, scale, at)
    row.points, row.length_mm = [list(p), list(q)], length_mm
    session.flush()
    return row


def card_scale(photo: Photo, store: PhotoStore) -> Scale:
    """Look for the scale card on a photo again. Takes its time: hold no lock meanwhile."""
    found = find_card(store.decoded(photo.sha256).pixels())
    if found is None:
        raise NoCardError
    return found


def keep_scale(session: Session, number: int, scale: Scale, at: datetime) -> PhotoScale:
    """Put a scale that was found in force on a photo."""
    row = set_scale(session, find_photo(session, number), scale, at)
    session.flush()
    return row


def measure_photo(
    photo: Photo,
    store: PhotoStore,
    *,
    region: Sequence[Point] | None,
    look: str = "auto",
    smallest_mm: float | None = None,
    threshold: float | None = None,
    leave_out: Sequence[Sequence[Point]] = (),
) -> VoidMeasurement:
    """Measure a photo at full size. Reads the file and takes its time: hold no lock meanwhile."""
    if threshold is not None and not LEAST <= threshold <= MOST:
        raise FieldError(
            "threshold",
            f"A threshold of {percent(threshold)} is out of range",
            f"set it from {percent(LEAST)} to {percent(MOST)}",
        )
    asked = asked_of(photo, region=region, look=look, smallest_mm=smallest_mm, leave_out=leave_out)
    return measure_voids(store.decoded(photo.sha256).pixels(), threshold=threshold, **asked)


def asked_of(
    photo: Photo,
    *,
    region: Sequence[Point] | None,
    look: str,
    smallest_mm: float | None,
    leave_out: Sequence[Sequence[Point]],
) -> dict[str, Any]:
    """What was asked for, checked, as ``measure_voids`` takes it, with the photo's scale."""
    if look not in LOOKS:
        raise FieldError("look", f"“{look}” is no look of a void", "say auto, dark or bright")
    if smallest_mm is not None and not 0 < smallest_mm <= 100:
        raise FieldError(
            "smallest_mm", "The smallest void is out of range", "enter more than 0, up to 100 mm"
        )
    if region is not None:
        check_points(Shape.OUTLINE, region, photo)
    if len(leave_out) > MOST_LEFT_OUT:
        raise FieldError(
            "leave_out",
            f"{len(leave_out)} areas to leave out are too many",
            f"draw no more than {MOST_LEFT_OUT}, or a region round the surface that counts",
        )
    for outline in leave_out:
        check_points(Shape.OUTLINE, outline, photo)
    return {
        "scale": scale_of(photo),
        "region": None if region is None else tuple((x, y) for x, y in region),
        "look": look,
        "smallest_mm": smallest_mm,
        "leave_out": tuple(tuple((x, y) for x, y in outline) for outline in leave_out),
    }


def keep_measurement(
    session: Session,
    number: int,
    measured: VoidMeasurement,
    *,
    region: Sequence[Point] | None,
    at: datetime,
) -> Measurement:
    """Put a measurement on record; it supersedes the earlier ones of its photo."""
    photo = find_photo(session, number)
    # Measuring takes its time, and somebody may have set another scale meanwhile.
    used = (one for one in reversed(photo.scales) if one.px_per_mm == measured.px_per_mm)
    row = Measurement(
        photo=photo,
        scale=next(used, None),
        at=at,
        by=who_writes(session),
        version=measured.version,
        region=None if region is None else [list(p) for p in region],
        settings=dict(measured.settings),
        look=measured.look,
        threshold=measured.threshold,
        void_fraction=measured.void_fraction,
        void_fraction_low=measured.void_fraction_low,
        void_fraction_high=measured.void_fraction_high,
        spread_low=measured.spread_low,
        spread_high=measured.spread_high,
        count=measured.count,
        density_per_cm2=measured.density_per_cm2,
        largest_mm=measured.largest_mm,
        largest_px=max(measured.diameters_px, default=None),
        clustering=measured.clustering,
        inspected_px=measured.inspected_px,
        inspected_mm2=measured.inspected_mm2,
        not_inspected_fraction=measured.not_inspected_fraction,
        warnings=list(measured.warnings),
        seconds=measured.seconds,
        result=measured.as_json()
        | {"rejected": rejected_json(measured), "each": each_json(measured)}
        | shapes_json(measured),
        voids_png=mask_to_png(measured.voids_mask),
        inspected_png=mask_to_png(measured.inspected_mask),
    )
    session.add(row)
    session.flush()
    session.expire(photo, ["measurements"])
    return row


def find_measurement(session: Session, number: int, photo_number: int) -> Measurement:
    """The measurement of that number on that photo."""
    row = session.get(Measurement, number)
    if row is None or row.photo_id != find_photo(session, photo_number).id:
        raise NotFoundError("measurement", number)
    return row
