"""The pictures of how a figure was made, drawn when they are asked for and kept for a moment."""

import io
import threading
from collections import OrderedDict
from collections.abc import Callable, Iterator

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from defectlog.bench.overlay import stored_mask
from defectlog.bench.rejected import rejected_of
from defectlog.bench.sizes import read_scale
from defectlog.errors import NotFoundError
from defectlog.measure.explain import Explanation, explain
from defectlog.measure.lengths.scale import NO_SCALE
from defectlog.photos.renditions import PhotoStore
from defectlog.records import Measurement

RgbImage = NDArray[np.uint8]

COUNTED = (226, 74, 140)
_DIMMED = 0.35
_STRIPE_PX = 9
_MARK_PX = 9.0
_DASH_PX = 10.0
KEPT = 4  # the last few explanations: a page asks for eight pictures of the same one

_kept: "OrderedDict[tuple[object, ...], Explanation]" = OrderedDict()
_one_at_a_time = threading.Lock()


def explanation(measured: Measurement, store: PhotoStore) -> Explanation:
    """The steps of a measurement gone through again. Reads the file and takes its time."""
    photo = measured.photo
    sha256 = photo.sha256
    region = None
    if measured.region is not None:
        region = tuple((float(x), float(y)) for x, y in measured.region)
    scale = NO_SCALE if measured.scale is None else read_scale(measured.scale)
    # All that the steps hang on; numbers of records may come to mean others after a restore.
    by_hand = "threshold" in measured.settings
    leave_out = tuple(
        tuple((float(x), float(y)) for x, y in one)
        for one in measured.settings.get("leave_out", ())
    )
    voids = measured.voids_png
    near_mm = float(measured.settings.get("near_mm", 0))
    fainter = "fainter" in measured.settings
    asked = (measured.look, measured.threshold, by_hand, near_mm, fainter)
    key = (sha256, region, scale, *asked, leave_out, voids)
    with _one_at_a_time:
        if key in _kept:
            _kept.move_to_end(key)
            return _kept[key]
        made = explain(
            store.decoded(sha256).pixels(),
            region=region,
            scale=scale,
            look=measured.look,  # type: ignore[arg-type]
            threshold=measured.threshold,
            by_hand=by_hand,
            near_mm=near_mm,
            fainter=fainter,
            leave_out=leave_out,
            counted=stored_mask(voids, (photo.width_px, photo.height_px), keep=True),
        )
        _kept[key] = made
        while len(_kept) > KEPT:
            _kept.popitem(last=False)
        return made


def step_jpeg(measured: Measurement, store: PhotoStore, step: str) -> bytes:
    """The picture of one step, no longer than 1200 px.

    Raises
    ------
    NotFoundError
        If there is no such step.
    """
    if step not in _DRAWN:
        raise NotFoundError("step", step)
    picture = _DRAWN[step](measured, explanation(measured, store))
    out = io.BytesIO()
    Image.fromarray(picture).save(out, "JPEG", quality=85)
    return out.getvalue()


def _grey(_measured: Measurement, made: Explanation) -> RgbImage:
    return _told(_rgb(made.grey), made)


def _light(_measured: Measurement, made: Explanation) -> RgbImage:
    return _told(_rgb(made.light), made)


def _even(_measured: Measurement, made: Explanation) -> RgbImage:
    return _told(_rgb(made.even), made)


def _standing(_measured: Measurement, made: Explanation) -> RgbImage:
    """Paper white where nothing stands out, darker towards the threshold, coloured past it."""
    towards = np.clip(made.standing_out, 0, 1)
    picture = _rgb((245 - 110 * towards).astype(np.uint8))
    picture[made.beyond & made.inspected] = COUNTED
    return _told(picture, made)


def _tone(_measured: Measurement, made: Explanation) -> RgbImage:
    return _cloth(made, of_tone=True)


def _swing(_measured: Measurement, made: Explanation) -> RgbImage:
    return _cloth(made, of_tone=False)


def _cloth(made: Explanation, *, of_tone: bool) -> RgbImage:
    """A map of the cloth; patches outlined, in dashes those that were not counted."""
    if made.cloth is None:
        raise NotFoundError("step", "tone" if of_tone else "swing")
    picture = Image.fromarray(_told(_rgb(made.cloth.tone if of_tone else made.cloth.swing), made))
    pen = ImageDraw.Draw(picture)
    for outline, is_counted in made.cloth.outlines:
        corners = [tuple(point) for point in (*outline.tolist(), outline[0].tolist())]
        if is_counted:
            pen.line(corners, fill=(20, 26, 31), width=6, joint="curve")
            pen.line(corners, fill=COUNTED, width=3, joint="curve")
            continue
        for start, end in _dashes(corners):
            pen.line([start, end], fill=(20, 26, 31), width=6)
            pen.line([start, end], fill=(255, 255, 255), width=3)
    return np.asarray(picture)


def _dashes(corners: list[tuple[float, ...]]) -> Iterator[tuple[tuple[float, ...], ...]]:
    """Every other stretch of a line, each as long as a dash."""
    points = np.array(corners, dtype=float)
    along = np.concatenate([[0], np.hypot(*np.diff(points, axis=0).T).cumsum()])
    for begin in np.arange(0, along[-1], 2 * _DASH_PX):
        ends = np.minimum([begin, begin + _DASH_PX], along[-1])
        yield tuple(
            (float(np.interp(at, along, points[:, 0])), float(np.interp(at, along, points[:, 1])))
            for at in ends
        )


def _counted(measured: Measurement, made: Explanation) -> RgbImage:
    picture = _told(_rgb(made.grey), made)
    size = (made.grey.shape[1], made.grey.shape[0])
    picture[stored_mask(measured.voids_png, size, keep=True)] = COUNTED
    return picture


def _turned_away(measured: Measurement, made: Explanation) -> RgbImage:
    """Hollow marks round what was looked at and not counted, as the photo room draws them."""
    picture = Image.fromarray(_told(_rgb(made.grey), made))
    shrink = picture.width / measured.photo.width_px
    turned = rejected_of(measured)
    pen = ImageDraw.Draw(picture)
    for spot in turned.spots if turned else ():
        x, y = (shrink * (place + 0.5) - 0.5 for place in (spot.x, spot.y))
        reach = max(_MARK_PX, shrink * spot.r_px * 1.5)
        corners = [(x, y - reach), (x + reach, y), (x, y + reach), (x - reach, y), (x, y - reach)]
        pen.line(corners, fill=(20, 26, 31), width=5, joint="curve")
        pen.line(corners, fill=(255, 255, 255), width=2, joint="curve")
    return np.asarray(picture)


_DRAWN: dict[str, Callable[[Measurement, Explanation], RgbImage]] = {
    "grey": _grey,
    "light": _light,
    "even": _even,
    "standing-out": _standing,
    "turned-away": _turned_away,
    "tone": _tone,
    "swing": _swing,
    "counted": _counted,
}


def _rgb(grey: NDArray[np.uint8]) -> RgbImage:
    return np.repeat(grey[..., None], 3, axis=2)


def _told(picture: RgbImage, made: Explanation) -> RgbImage:
    """Darken what was not to be inspected, hatch what could not be."""
    picture[~made.wanted] = (picture[~made.wanted] * _DIMMED).astype(np.uint8)
    y, x = np.indices(made.wanted.shape, sparse=True)
    stripe = (x + y) // _STRIPE_PX % 2 == 0
    lost = made.wanted & ~made.inspected
    picture[lost & stripe] = 40
    picture[lost & ~stripe] = 215
    return picture
