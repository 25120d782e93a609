"""Marks a measurement suggests, for a person to accept, to rename or to dismiss."""

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from sqlalchemy import select
from sqlalchemy.orm import Session

from defectlog.bench.bench_in_view import shows_bench
from defectlog.bench.kinds import library_of
from defectlog.bench.mark_points import Point, outline_of
from defectlog.bench.overlay import stored_mask, wanted_surface
from defectlog.bench.sizes import extent_words, scale_of
from defectlog.measure.figures.proposals import Proposal, propose
from defectlog.measure.lengths.extent import mark_extent
from defectlog.photos.renditions import LARGE
from defectlog.records import Face, Mark, Measurement, Photo
from defectlog.units import plural

# What a shape is most often called at the bench. The person who looks at it decides.
_KINDS = {"dry patch": "dry-spot", "line": "line-mark"}
_PINHOLES = {Face.BAG: "pinholes-bag"}
# The same as a shape that was measured, for whoever asks the key instead.
_MEASURED = {"dry patch": "irregular", "line": "long"}
_MARKED_SHARE = 0.5


@dataclass(frozen=True, slots=True)
class Suggestion:
    """One mark that could be drawn, in pixels of the photo.

    ``client_id`` is what it is saved under, so that it is one mark however often it is accepted.
    """

    client_id: str
    shape: str
    measured: str
    points: tuple[Point, ...]
    kind: str
    code: str
    title: str
    words: str
    # An open finding of this kind that is marked on the photo: the mark joins it.
    finding_id: int | None


def suggestions(session: Session, measured: Measurement) -> list[Suggestion]:
    """What the latest look at a photo suggests to mark and nobody has marked yet.

    Nothing where the bench was taken for a void: its edges would be suggested with the rest.
    """
    if shows_bench(measured.region, measured.warnings):
        return []
    photo = measured.photo
    size = LARGE.fit(photo.width_px, photo.height_px)
    mask = stored_mask(measured.voids_png, size, keep=True)
    scale = scale_of(photo)
    shrink = size[0] / photo.width_px
    found = propose(
        mask,
        px_per_mm=scale.px_per_mm * shrink if scale.px_per_mm else None,
        within=wanted_surface(measured, size),
    )
    asked = [f"shape-{measured.id}-{number}" for number in range(len(found))]
    # Deleted ones too: what was accepted and then deleted is not suggested again.
    answered = set(session.scalars(select(Mark.client_id).where(Mark.client_id.in_(asked))))
    outlines = filter(None, map(outline_of, photo.marks))
    drawn = [np.array(outline, np.float32) for outline in outlines]
    library = library_of(session)
    offered = []
    for client_id, proposal in zip(asked, found, strict=True):
        points = tuple((x / shrink, y / shrink) for x, y in proposal.points)
        centres = [(x / shrink, y / shrink) for x, y in proposal.centres]
        if client_id in answered or _are_marked(centres, drawn):
            continue
        entry = library.find(_kind(proposal, photo))
        if entry is None:
            continue
        extent = extent_words(mark_extent(proposal.shape, list(points), scale))
        words = f"{plural(proposal.count, 'pinhole')}, {extent}" if _is_many(proposal) else extent
        offered.append(
            Suggestion(
                client_id,
                proposal.shape,
                _MEASURED.get(proposal.what, "round"),
                points,
                entry.key,
                entry.code,
                entry.title,
                words,
                _joins(photo, entry.key),
            )
        )
    return offered


def suggestion_json(one: Suggestion) -> dict[str, Any]:
    """One suggestion as the room takes it."""
    return {
        "client_id": one.client_id,
        "shape": one.shape,
        "measured": one.measured,
        "points": [[round(x, 1), round(y, 1)] for x, y in one.points],
        "kind": one.kind,
        "code": one.code,
        "title": one.title,
        "words": one.words,
        "finding_id": one.finding_id,
    }


def _joins(photo: Photo, kind: str) -> int | None:
    found = [m.finding for m in photo.marks if m.finding.kind == kind and m.finding.is_open]
    return found[-1].id if found else None


def _is_many(proposal: Proposal) -> bool:
    return proposal.what == "pinholes"


def _kind(proposal: Proposal, photo: Photo) -> str:
    return _KINDS.get(proposal.what) or _PINHOLES.get(photo.face, "pinholes-tool")


def _are_marked(centres: list[Point], drawn: list[np.ndarray]) -> bool:
    """Whether most of some voids lie inside marks that are on the photo."""
    inside = sum(
        any(cv2.pointPolygonTest(outline, point, False) >= 0 for outline in drawn)
        for point in centres
    )
    return inside > _MARKED_SHARE * len(centres)
