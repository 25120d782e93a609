"""Take in a photo: keep its bytes for good, draw its copies, look for its scale, record it.

The order is the promise. Nothing is in the records before the file is on the disk for good, so
whatever goes wrong in between costs a file nobody speaks of, and never a photo without a file.
"""

import io
import unicodedata
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import BinaryIO

from sqlalchemy import select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from defectlog.bench.print_check import scale_row
from defectlog.errors import NotFoundError
from defectlog.measure.lengths.markers import find_card
from defectlog.measure.lengths.scale import NO_SCALE, Scale
from defectlog.photos.decoding import DecodedPhoto
from defectlog.photos.originals import Incoming
from defectlog.photos.refusals import StorageFaultError
from defectlog.photos.renditions import PhotoStore
from defectlog.records import Build, Face, Photo, PhotoStage

LABEL_LENGTH = 120

# A photo of 64 megapixels takes some 400 MB while it is read; more at once would not be quicker.
# These two threads read every photo, whoever hands it in: a thread keeps some of the memory it once
# needed, and what two keep is bounded. Photos wait in the order they came.
_READING = ThreadPoolExecutor(2, thread_name_prefix="photo")


@dataclass(frozen=True, slots=True)
class Arrival:
    """A photo whose original is on the disk for good, and what was seen on it."""

    sha256: str
    size: int
    media_type: str
    width_px: int
    height_px: int
    taken_at: datetime | None
    scale: Scale
    # Where the original lies; None where there is none to look for.
    path: Path | None = None
    # What of the file is not in its picture, in a sentence; most have nothing to be said.
    note: str = ""


class WentMeanwhileError(StorageFaultError):
    """The bin was emptied of just this photo while it was sent again."""

    def __init__(self) -> None:
        super().__init__("The photo was being let go of just now", "send it once more")


@dataclass(frozen=True, slots=True)
class Intake:
    """The record of a photo. ``is_new`` is False if the build had just this photo already."""

    photo: Photo
    is_new: bool
    note: str = ""


def take_in(
    session: Session,
    store: PhotoStore,
    build_number: int,
    data: BinaryIO | bytes,
    *,
    name: str,
    face: Face,
    stage: PhotoStage,
    at: datetime,
) -> Intake:
    """Take a photo into a build: first the file, then the record with its first scale.

    Raises
    ------
    PhotoRefusedError
        One of its subclasses, if the bytes are not a photo we can take.
    StorageFaultError
        If the disk does not take it.
    NotFoundError
        If there is no such build.
    """
    arrival = keep_file(store, data)
    return record(session, build_number, arrival, name=name, face=face, stage=stage, at=at)


def keep_file(store: PhotoStore, data: BinaryIO | bytes, *, sha256: str = "") -> Arrival:
    """The slow part, without the records: check, keep, draw the copies, look for the card.

    ``sha256`` is what the sender says the bytes have: others are refused.
    """
    source = io.BytesIO(data) if isinstance(data, bytes) else data
    with store.originals.receive(source, sha256=sha256) as incoming:
        return _READING.submit(_keep, store, incoming).result()


def _keep(store: PhotoStore, incoming: Incoming) -> Arrival:
    with incoming.path.open("rb") as file:
        photo = store.decode(file)
    path = store.originals.keep(incoming)
    store.make_renditions(incoming.sha256, photo)
    return Arrival(
        incoming.sha256,
        incoming.size,
        incoming.format.media_type,
        photo.width_px,
        photo.height_px,
        photo.metadata.taken_at,
        _scale_of(photo),
        path,
        photo.note,
    )


def record(
    session: Session,
    build_number: int,
    arrival: Arrival,
    *,
    name: str,
    face: Face,
    stage: PhotoStage,
    at: datetime,
) -> Intake:
    """Enter a kept photo into the records of a build; the same photo twice is one record."""
    if session.get(Build, build_number) is None:
        raise NotFoundError("build", build_number)
    known = _find(session, build_number, arrival.sha256)
    if known is None:
        photo = _new_photo(session, build_number, arrival, label(name), face, stage, at)
        try:
            with session.begin_nested():
                session.add(photo)
            _still_there(arrival)
            return Intake(photo, is_new=True, note=arrival.note)
        except IntegrityError:
            # Another request entered it between our look and our entry.
            known = _find(session, build_number, arrival.sha256)
            if known is None:
                raise
    _still_there(arrival)
    was_deleted = known.deleted_at is not None
    if was_deleted:
        known.deleted_at, known.face, known.stage = None, face, stage
    return Intake(known, is_new=was_deleted)


def _still_there(arrival: Arrival) -> None:
    """Under the lock of the records: whoever empties the bin holds it while files go."""
    if arrival.path is not None and not arrival.path.is_file():
        raise WentMeanwhileError


def label(name: str) -> str:
    """A file's name as it is shown: no folders, nothing that cannot be seen, not too long."""
    last = name.replace("\\", "/").rpartition("/")[2]
    seen = "".join(letter for letter in last if not unicodedata.category(letter).startswith("C"))
    return " ".join(seen.split())[:LABEL_LENGTH] or "photo"


def _scale_of(photo: DecodedPhoto) -> Scale:
    return find_card(photo.pixels()) or NO_SCALE


def _find(session: Session, build_number: int, sha256: str) -> Photo | None:
    return session.scalars(
        select(Photo).where(Photo.build_id == build_number, Photo.sha256 == sha256)
    ).one_or_none()


def _new_photo(
    session: Session,
    build_number: int,
    arrival: Arrival,
    name: str,
    face: Face,
    stage: PhotoStage,
    at: datetime,
) -> Photo:
    taken = arrival.taken_at
    return Photo(
        build_id=build_number,
        sha256=arrival.sha256,
        name=name,
        media_type=arrival.media_type,
        bytes=arrival.size,
        width_px=arrival.width_px,
        height_px=arrival.height_px,
        face=face,
        stage=stage,
        taken_at=f"{taken:%Y-%m-%d %H:%M:%S}" if taken else None,
        received_at=at,
        scales=[scale_row(session, arrival.scale, at)],
    )
