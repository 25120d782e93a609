"""What a measurement counted and what it could not judge, as a picture to lay over the photo."""

import io

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from defectlog.bench.sizes import read_scale
from defectlog.measure.lengths.region import inspected_region
from defectlog.records import Measurement

BoolImage = NDArray[np.bool_]

# Colours with how opaque they are: counted as void; left out on purpose (beside the region, under
# the card); and the two stripes of surface that was to be inspected and could not be.
_COUNTED = (226, 74, 140, 190)
_LEFT_OUT = (20, 26, 31, 150)
_STRIPES = ((20, 26, 31, 190), (255, 255, 255, 70))
_PALETTE = ((0, 0, 0, 0), _COUNTED, _LEFT_OUT, *_STRIPES)
_STRIPES_ACROSS = 110  # over the longer side of the picture, so that they show at any size


def overlay_png(measured: Measurement, size: tuple[int, int]) -> bytes:
    """What was counted, as a picture to lay over the photo: (width, height) in px.

    Void pixels are coloured and kept when the picture shrinks; surface that could not be judged
    is hatched; what lies beside the region or under the card is darkened; the rest is clear.
    """
    inspected = stored_mask(measured.inspected_png, size, keep=False)
    voids = stored_mask(measured.voids_png, size, keep=True)
    wanted = wanted_surface(measured, size)
    indices = np.where(inspected, 0, 2).astype(np.uint8)
    hatched = ~inspected & wanted
    indices[hatched] = _stripes(size)[hatched]
    indices[voids] = 1
    picture = Image.fromarray(indices, "P")
    picture.putpalette([value for colour in _PALETTE for value in colour[:3]])
    out = io.BytesIO()
    opacity = bytes(colour[3] for colour in _PALETTE)
    picture.save(out, "PNG", transparency=opacity, compress_level=1)
    return out.getvalue()


def mask_to_png(mask: BoolImage) -> bytes:
    """A mask as a one-bit PNG."""
    out = io.BytesIO()
    Image.fromarray(mask).save(out, "PNG", compress_level=6)
    return out.getvalue()


def stored_mask(png: bytes, size: tuple[int, int], *, keep: bool) -> BoolImage:
    """A stored mask at another size; ``keep`` makes no void vanish when it shrinks."""
    with Image.open(io.BytesIO(png), formats=["PNG"]) as picture:
        grey = picture.convert("L")
    if keep and size[0] <= grey.width and size[1] <= grey.height:
        return _any_of_each(np.asarray(grey) > 0, size)
    if grey.size != size:
        grey = grey.resize(size, Image.Resampling.BOX)
    values = np.asarray(grey)
    return values > 0 if keep else values >= 128


def _any_of_each(mask: BoolImage, size: tuple[int, int]) -> BoolImage:
    """A smaller mask, True where anything of what becomes one of its pixels is."""
    for axis, pixels in ((0, size[1]), (1, size[0])):
        if pixels < mask.shape[axis]:
            starts = np.arange(pixels) * mask.shape[axis] // pixels
            mask = np.logical_or.reduceat(mask, starts, axis=axis)
    return mask


def wanted_surface(measured: Measurement, size: tuple[int, int]) -> BoolImage:
    """The surface that was to be inspected: the region without the card and areas left out."""
    photo = measured.photo
    shrink = np.array([size[0] / photo.width_px, size[1] / photo.height_px])
    region = None
    if measured.region is not None:
        region = tuple((float(x), float(y)) for x, y in np.array(measured.region) * shrink)
    cards = () if measured.scale is None else read_scale(measured.scale).card_outlines
    cards, left_out = (
        [tuple((float(x), float(y)) for x, y in np.array(one) * shrink) for one in outlines]
        for outlines in (cards, measured.settings.get("leave_out", ()))
    )
    return inspected_region(region, (size[1], size[0]), cards, left_out)


def _stripes(size: tuple[int, int]) -> NDArray[np.uint8]:
    """Palette indices of stripes that rise to the right."""
    width = max(3, max(size) // _STRIPES_ACROSS)
    x, y = np.arange(size[0]), np.arange(size[1])[:, None]
    return (3 + (x + y) // width % 2).astype(np.uint8)
