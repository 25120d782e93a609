"""Patches that differ as a whole, joined to the voids found pixel by pixel."""

import math
from dataclasses import fields, replace
from functools import partial

import cv2
import numpy as np

from defectlog.measure.arrays.light import BoolImage, as_ratio
from defectlog.measure.arrays.pixels import FloatArray, IndexArray
from defectlog.measure.candidates.creases import flanks_of, lies_across
from defectlog.measure.candidates.found import Found
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.outlines.shapes import Shapes, shapes_of
from defectlog.measure.patches.patches import Patch

# A void larger than this may be a part of a patch.
PART_MM2 = 3.0
# Of a patch that is void already, there is nothing left to find.
KNOWN_SHARE = 0.7
# Nor if so much of it is void already, and what is not lies off by no more than such a share.
OUTLINED_SHARE, REST = 0.15, 0.3
OUTLINED_RIM_PX = 3
# Of what lies so near to a patch, the share that may have been turned down as a fold.
# A patch that was itself turned down, pixel by pixel, has been judged anew by its rim.
STRUCK_SHARE = 0.15
STRUCK_ITSELF = 0.3
BESIDE_MM = 2.5
# A crease takes as much light as it gives: as a whole it lies off by less, in log units of light.
EVENED_OUT = 0.2


def small_voids(voids: BoolImage, at: IndexArray, label: IndexArray, surface: Surface) -> BoolImage:
    """The voids that are no patch nor part of one: what is not looked at for patches.

    Parameters
    ----------
    voids : (M, N) bool, the objects
    at, label : their pixels in the flattened picture, and of which object each is
    surface : they lie on
    """
    large = np.bincount(label) > PART_MM2 * surface.px_per_mm**2
    if not large.any():
        return voids
    mask = voids.copy()
    mask.ravel()[at[large.take(label)]] = False
    return mask


def with_patches(
    found: Found, surface: Surface, patches: tuple[Patch, ...], *, look: str
) -> tuple[Found, tuple[Patch, ...]]:
    """Take patches among the voids; with them, those that were taken or may be voids.

    Parameters
    ----------
    found : the voids found so far
    patches : from ``find_patches``
    look : ``"auto"``, or the side that was asked for: patches of the other are left out
    """
    used = []
    flanks = partial(flanks_of, surface)
    counted = found.drawn(found.kept) if patches else found.mask
    for patch in patches:
        if look != "auto" and (patch.tone > 0) != (look == "bright"):
            continue
        window = _window(patch)
        mask = patch.mask & surface.inspected[window]
        voids = counted[window]  # not what was turned down: a patch may be that
        if np.count_nonzero(mask & voids) > KNOWN_SHARE * np.count_nonzero(mask):
            continue
        if _is_outlined(patch, mask, voids, surface):
            continue
        evened_out = patch.is_sure and not patch.is_clear and abs(patch.tone) < EVENED_OUT
        if evened_out and lies_across(flanks, patch.mask, patch.top, patch.left):
            continue
        if not patch.is_clear:
            is_sure = patch.is_sure and not _by_folds(patch, found, surface)
            patch = replace(patch, is_sure=is_sure)
        used.append(patch)
        if patch.is_sure:
            found = _joined(found, surface, patch)
            counted = found.drawn(found.kept)
        else:
            doubtful = np.count_nonzero(mask & ~voids)
            found = replace(found, doubtful_px=found.doubtful_px + doubtful + patch.unsure_px)
    return found, tuple(used)


def _is_outlined(patch: Patch, mask: BoolImage, voids: BoolImage, surface: Surface) -> bool:
    """Whether the voids found are what makes a patch differ, and draw it closer than its rim."""
    known = mask & voids
    if np.count_nonzero(known) < OUTLINED_SHARE * np.count_nonzero(mask):
        return False
    brush = np.ones((2 * OUTLINED_RIM_PX + 1,) * 2, np.uint8)
    rest = mask & (cv2.dilate(voids.view(np.uint8), brush) == 0)
    if not rest.any():
        return True
    light = as_ratio(surface.smooth[_window(patch)][rest])
    return bool(np.sign(patch.tone) * math.log(float(light.mean())) < REST * abs(patch.tone))


def _by_folds(patch: Patch, found: Found, surface: Surface) -> bool:
    """Whether a patch lies beside what was turned down for fading out, as folds do.

    The crest of a fold, or the place where two meet, is pale by itself.
    """
    reach = round(BESIDE_MM * surface.px_per_mm)
    top, left = max(0, patch.top - reach), max(0, patch.left - reach)
    rows, columns = patch.mask.shape
    struck = found.struck[top : patch.top + rows + reach, left : patch.left + columns + reach]
    if not struck.any():
        return False
    about = np.zeros(struck.shape, np.uint8)
    row, column = patch.top - top, patch.left - left
    about[row : row + rows, column : column + columns] = patch.mask
    brush = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
    beside = cv2.dilate(about, brush) > about
    if np.count_nonzero(struck & (about > 0)) > STRUCK_ITSELF * patch.area_px:
        return False
    return np.count_nonzero(struck & beside) > STRUCK_SHARE * np.count_nonzero(beside)


def _window(patch: Patch) -> tuple[slice, slice]:
    rows, columns = patch.mask.shape
    return slice(patch.top, patch.top + rows), slice(patch.left, patch.left + columns)


def _joined(found: Found, surface: Surface, patch: Patch) -> Found:
    window = _window(patch)
    own = np.zeros(found.mask.shape, dtype=bool)
    own[window] = patch.mask & surface.inspected[window]
    shapes = found.shapes
    # What was found of the patch before is part of it.
    within = np.bincount(
        shapes.label, own.ravel()[shapes.at], minlength=len(found.area)
    ) > 0.5 * np.maximum(shapes.area, 1)
    kept = found.kept & ~within
    left = found.drawn(kept)
    added = _in_picture(
        shapes_of(np.ascontiguousarray((own & ~left)[window])), patch, found.mask.shape[1]
    )
    n = len(added.area)
    if n == 0:
        return found
    unsure = patch.unsure_px * added.area / added.area.sum()
    mask = found.mask | own
    mask.ravel()[shapes.at[~kept[shapes.label]]] = False
    mask |= own
    look = "bright" if patch.tone > 0 else "dark"
    return replace(
        found,
        mask=mask,
        shapes=one_after_the_other(shapes, added),
        area=np.concatenate([found.area, added.area]),
        kept=np.concatenate([kept, np.ones(n, dtype=bool)]),
        height=np.concatenate([found.height, np.full(n, abs(np.expm1(patch.tone)))]),
        unsure_px=np.concatenate([found.unsure_px, unsure]),
        look=found.look if found.kept.any() else look,
    )


def _in_picture(shapes: Shapes, patch: Patch, columns: int) -> Shapes:
    rows, across = np.divmod(shapes.at, patch.mask.shape[1])
    return replace(
        shapes,
        at=(rows + patch.top) * columns + across + patch.left,
        x=shapes.x + patch.left,
        y=shapes.y + patch.top,
    )


def one_after_the_other(first: Shapes, second: Shapes) -> Shapes:
    label = np.concatenate([first.label, second.label + len(first.area)])
    joined: dict[str, FloatArray] = {
        f.name: np.concatenate([getattr(first, f.name), getattr(second, f.name)])
        for f in fields(Shapes)
        if f.name not in ("label", "words")
    }
    return Shapes(**joined, label=label, words=first.words + second.words)
