"""A face before and after: the earlier photo laid over the later one, its marks carried across."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image
from sqlalchemy import select
from sqlalchemy.orm import Session

from defectlog.bench.findings import add_mark, delete_mark, find_photo, keep_if_closed
from defectlog.bench.mark_points import Point, outline_of
from defectlog.bench.sizes import extent_of, extent_words, scale_of
from defectlog.bench.who import who_writes
from defectlog.errors import FieldError, NotFoundError
from defectlog.measure.lengths.align import Alignment, View, align
from defectlog.measure.lengths.scale import Scale
from defectlog.photos.renditions import VIEW, PhotoStore
from defectlog.records import LaterLook, Mark, Photo, PhotoStage, Said, Shape


@dataclass(frozen=True, slots=True)
class Ghost:
    """A mark of the earlier photo where it lies on the later one.

    ``points`` are pixels of the later photo, or None where it lies outside of it or nothing is
    known of how the two lie. ``look`` is what a person saw there, if somebody has said.
    """

    mark: Mark
    shape: Shape
    points: list[Point] | None
    size_words: str
    look: LaterLook | None

    @property
    def can_be_judged(self) -> bool:
        return self.mark.finding.is_open


@dataclass(frozen=True, slots=True)
class BeforeAfter:
    """Two photos of one face, how they lie on each other if that could be found, and the marks."""

    before: Photo
    after: Photo
    alignment: Alignment | None
    ghosts: tuple[Ghost, ...]


def earlier_photos(photo: Photo) -> list[Photo]:
    """Photos of the same face of the same build, from before this one, the nearest first."""
    older = [other for other in photo.build.photos if other.face is photo.face]
    return sorted(
        (other for other in older if _when(other) < _when(photo)), key=_when, reverse=True
    )


def compare_photos(
    session: Session, store: PhotoStore, after_number: int, before_number: int
) -> BeforeAfter:
    """Lay an earlier photo over a later one of the same face.

    Raises
    ------
    NotFoundError
        If there is no such photo.
    FieldError
        If the two do not show one face of one build, or come in the other order.
    """
    before, after = _pair(session, before_number, after_number)
    found = _alignment(store, before, after)
    looks = {
        look.mark_id: look
        for look in session.scalars(select(LaterLook).where(LaterLook.photo_id == after.id))
    }
    ghosts = tuple(_ghost(mark, after, found, looks.get(mark.id)) for mark in before.marks)
    return BeforeAfter(before, after, found, ghosts)


def laid_over(
    session: Session, store: PhotoStore, after_number: int, before_number: int
) -> NDArray[np.uint8] | None:
    """The earlier photo as the later camera would have seen it: RGB, the size of its view copy."""
    before, after = _pair(session, before_number, after_number)
    found = _alignment(store, before, after)
    if found is None:
        return None
    picture = _copy(store, before.sha256, "RGB")
    size = VIEW.fit(after.width_px, after.height_px)
    onto = np.diag([size[0] / after.width_px, size[1] / after.height_px, 1.0])
    from_copy = np.diag(
        [before.width_px / picture.shape[1], before.height_px / picture.shape[0], 1.0]
    )
    matrix = onto @ np.array(found.matrix) @ from_copy
    return cv2.warpPerspective(picture, matrix, size, flags=cv2.INTER_LINEAR)  # type: ignore[return-value]


def say_of_ghost(
    session: Session,
    store: PhotoStore,
    after_number: int,
    mark_number: int,
    said: Said,
    at: datetime,
) -> LaterLook:
    """Write down what the later photo shows of a mark; what is left of it is marked there too.

    Raises
    ------
    NotFoundError
        If there is no such mark on an earlier photo of the same face.
    ClosedFindingError
        If its finding is closed.
    FieldError
        If something is left, but where cannot be known.
    """
    mark = session.get(Mark, mark_number)
    if mark is None or mark.deleted_at is not None:
        raise NotFoundError("mark", mark_number)
    before, after = _pair(session, mark.photo_id, after_number)
    keep_if_closed(mark.finding, "what was seen of it stays")
    look = _look(session, mark, after)
    if look is None:
        look = LaterLook(mark=mark, photo=after, said=said, at=at, by=who_writes(session))
        session.add(look)
    if said is Said.GONE:
        _drop_carried(session, look, at)
    elif look.carried is None or look.carried.deleted_at is not None:
        ghost = _ghost(mark, after, _alignment(store, before, after), look)
        if ghost.points is None:
            raise FieldError(
                "said",
                "Where it lies on the later photo is not known",
                "open the later photo and mark it there",
            )
        look.carried = add_mark(
            session, after.id, ghost.shape, ghost.points, finding_number=mark.finding_id, at=at
        )
    look.said, look.at, look.by = said, at, who_writes(session)
    session.flush()
    return look


def take_back(session: Session, after_number: int, mark_number: int, at: datetime) -> None:
    """Take back what was said of a mark, and the mark that was carried over."""
    mark = session.get(Mark, mark_number)
    look = mark and _look(session, mark, find_photo(session, after_number))
    if look is None:
        return
    keep_if_closed(look.mark.finding, "what was seen of it stays")
    _drop_carried(session, look, at)
    session.delete(look)
    session.flush()


def _look(session: Session, mark: Mark, after: Photo) -> LaterLook | None:
    return session.scalar(
        select(LaterLook).where(LaterLook.mark_id == mark.id, LaterLook.photo_id == after.id)
    )


def _drop_carried(session: Session, look: LaterLook, at: datetime) -> None:
    if look.carried is not None and look.carried.deleted_at is None:
        delete_mark(session, look.carried.id, look.photo_id, at)
    look.carried = None


def _when(photo: Photo) -> tuple[int, int]:
    """Where in the part's life a photo stands."""
    return list(PhotoStage).index(photo.stage), photo.id


def _pair(session: Session, before_number: int, after_number: int) -> tuple[Photo, Photo]:
    before, after = find_photo(session, before_number), find_photo(session, after_number)
    if before not in earlier_photos(after):
        raise FieldError(
            "before",
            f"Photo {before.id} is no earlier photo of the face that photo {after.id} shows",
            "choose two photos of one face of one build, the earlier one first",
        )
    return before, after


def _ghost(mark: Mark, after: Photo, found: Alignment | None, look: LaterLook | None) -> Ghost:
    shape, points = mark.shape, [(x, y) for x, y in mark.points]
    if shape is Shape.BOX:
        # Seen anew, a box is no box any more.
        shape, points = Shape.OUTLINE, outline_of(mark) or points
    carried = found.carry(points) if found else None
    if carried is not None and not _is_inside(carried, after):
        carried = None
    return Ghost(mark, shape, carried, extent_words(extent_of(mark)), look)


def _is_inside(points: Sequence[Point], photo: Photo) -> bool:
    return all(0 <= x <= photo.width_px and 0 <= y <= photo.height_px for x, y in points)


def _alignment(store: PhotoStore, before: Photo, after: Photo) -> Alignment | None:
    return _found(store, *(_key(photo) for photo in (before, after)))


def _key(photo: Photo) -> tuple[str, int, Scale]:
    return photo.sha256, max(photo.width_px, photo.height_px), scale_of(photo)


@lru_cache(maxsize=64)
def _found(
    store: PhotoStore, before: tuple[str, int, Scale], after: tuple[str, int, Scale]
) -> Alignment | None:
    """Kept, for the page and its picture ask for the same in turn."""
    views = []
    for sha256, long_side_px, scale in (before, after):
        grey = _copy(store, sha256, "L")
        views.append(View(grey, max(grey.shape) / long_side_px, scale))
    return align(*views)


def _copy(store: PhotoStore, sha256: str, mode: str) -> NDArray[np.uint8]:
    with Image.open(store.rendition(sha256, VIEW)) as picture:
        return np.asarray(picture.convert(mode))
