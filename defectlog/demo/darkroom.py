"""Render the photos, take their files in and measure them, on both cores.

A worker does what is slow and needs no records: rendering, the bench's own taking-in of a file,
and the app's own measuring. What it hands back is entered into the records by the shop.
"""

from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import datetime
from multiprocessing import get_context
from pathlib import Path

import cv2
import numpy as np

from defectlog.bench.intake import Arrival, keep_file
from defectlog.demo.camera import as_jpeg, look
from defectlog.demo.shots import Shot
from defectlog.demo.spec import DrawnDefect, Outline, Point, SandedPatch, Truth, fill
from defectlog.demo.surfaces import render
from defectlog.measure.voids import VoidMeasurement, measure_voids
from defectlog.photos.renditions import PhotoStore

_COARSE_PX = 8
_INSET_MM = 7.0
_AROUND_DRY_MM = 14.0
_FEWER_CORNERS_PX = 9.0
AT_ONCE = 2


@dataclass(frozen=True, slots=True)
class Order:
    """One photo to be made: what it shows, when it was taken, and where the photos are kept."""

    shot: Shot
    taken: datetime
    photos: Path


@dataclass(frozen=True, slots=True)
class Print:
    """A photo that was made: its file, its region, what is wrong on it, what was measured.

    ``true_fraction`` is the void share of the region as it was drawn; ``spot`` is the middle of
    a repaired patch, or of the part.
    """

    arrival: Arrival
    region: Outline
    drawn: tuple[DrawnDefect, ...]
    measured: VoidMeasurement | None
    true_fraction: float
    spot: Point


def develop_all(orders: Sequence[Order], *, processes: int = AT_ONCE) -> Iterator[Print]:
    """Make the photos, in their order, in so many processes."""
    if processes <= 1:
        yield from map(develop, orders)
        return
    # Spawned, not forked: the caller may have threads.
    with ProcessPoolExecutor(
        processes, mp_context=get_context("spawn"), initializer=_one_thread
    ) as pool:
        try:
            yield from pool.map(develop, orders)
        finally:
            pool.shutdown(cancel_futures=True)


def _one_thread() -> None:
    cv2.setNumThreads(1)


def develop(order: Order) -> Print:
    """Render one photo, take its file in, and measure it if that is asked for."""
    store = PhotoStore(order.photos)
    picture, truth = render(order.shot.spec)
    arrival = keep_file(store, as_jpeg(picture, order.taken))
    region = region_of(truth)
    measured = None
    if order.shot.measured:
        measured = measure_voids(
            store.decoded(arrival.sha256).pixels(), scale=arrival.scale, region=region
        )
    return Print(
        arrival, region, truth.defects, measured, truth.void_fraction(region), _spot(order, truth)
    )


def _spot(order: Order, truth: Truth) -> Point:
    patch = next((d for d in order.shot.spec.defects if isinstance(d, SandedPatch)), None)
    if patch is None:
        x, y = np.asarray(truth.part_px).mean(0)
        return float(x), float(y)
    return look(order.shot.spec.camera).point_px(patch.centre_mm)


def region_of(truth: Truth) -> Outline:
    """The region a maker would draw: the face as far as it is seen, a little inside its edge.

    A cut-out and a dry spot stay outside, with all that lies between them and the edge.
    """
    rows, columns = (size // _COARSE_PX for size in truth.void_cover.shape)
    px_per_mm = truth.px_per_mm / _COARSE_PX
    face = np.zeros((rows + 2, columns + 2), np.uint8)
    fill(face, _coarse(truth.part_px), 1)
    face[[0, -1], :] = 0
    face[:, [0, -1]] = 0
    face = cv2.erode(face, _disc(_INSET_MM * px_per_mm))
    away = np.zeros_like(face)
    for hole in truth.holes_px:
        # Nothing behind the cut-out either, so that the outline has no island in it.
        x, y = np.asarray(hole).min(0)
        fill(away, _coarse(((x, 0), (columns * 9, 0), (columns * 9, rows * 9), (x, rows * 9))), 1)
    for defect in truth.defects:
        if defect.kind == "dry-spot":
            spot = np.zeros_like(face)
            fill(spot, _coarse(defect.outline_px), 1)
            away |= cv2.dilate(spot, _disc(_AROUND_DRY_MM * px_per_mm))
    face[cv2.dilate(away, _disc(2 * px_per_mm)) > 0] = 0
    found, _ = cv2.findContours(face, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    largest = max(found, key=cv2.contourArea)
    simpler = cv2.approxPolyDP(largest, _FEWER_CORNERS_PX / _COARSE_PX, True)[:, 0]
    return tuple((float((x - 0.5) * _COARSE_PX), float((y - 0.5) * _COARSE_PX)) for x, y in simpler)


def _coarse(outline: Outline) -> Outline:
    return tuple((x / _COARSE_PX + 1, y / _COARSE_PX + 1) for x, y in outline)


def _disc(radius: float) -> np.ndarray:
    side = 2 * max(1, round(radius)) + 1
    return cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side))
