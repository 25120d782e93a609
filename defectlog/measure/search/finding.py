"""The voids of a surface beyond a threshold: outlines, sizes, and what is turned down."""

import math
from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np

from defectlog.measure.arrays.halves import begun, both
from defectlog.measure.arrays.light import BoolImage, RatioImage
from defectlog.measure.arrays.look import Look, sign_of
from defectlog.measure.arrays.pixels import IndexArray, Listed, listed, with_filled
from defectlog.measure.arrays.threshold import Tail
from defectlog.measure.candidates import folds, pockets
from defectlog.measure.candidates.barely import only_just
from defectlog.measure.candidates.crossing import cut_strokes
from defectlog.measure.candidates.fading_out import fading_out
from defectlog.measure.candidates.found import Found
from defectlog.measure.candidates.glints import fill_rim_glints, may_have_rim_glints
from defectlog.measure.candidates.hiding_yarns import lie_at_yarns
from defectlog.measure.candidates.noise import hides_outlines, is_noise, without_noise
from defectlog.measure.candidates.running_on import run_on
from defectlog.measure.candidates.seeds import seeds_of
from defectlog.measure.candidates.slender import spared
from defectlog.measure.candidates.verdicts import verdicts_on
from defectlog.measure.candidates.yarns import FEWEST
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.cloth.weave import Vector
from defectlog.measure.outlines import judging, outline, pinholes
from defectlog.measure.outlines.judging import Turned
from defectlog.measure.outlines.shapes import sized
from defectlog.measure.outlines.sizing import outlined_objects, sizes_of
from defectlog.measure.outlines.zone import Zone, zone_of
from defectlog.measure.search.inverse import as_bright

# Dark voids on two-tone cloth touch dark tows and bright ones: the surface they are set off from
# is a little darker than the mean of both.
LEAN = 0.2
# Of pockets of resin so many are no stronger than they are said to be.
POCKETS_REACH = 0.95
# Where so much of what stands out is specks of noise, edges do not tell how blurred a picture is.
MOSTLY_NOISE = 0.5
# Where outlines tell of so many more dashes to those that are known, all is looked at anew.
MORE = 0.05

# What is told of outlined voids: their mask, its pixels, and of which void each of these is.
OnOutlined = Callable[[BoolImage, IndexArray, IndexArray], None]


def find_voids(
    surface: Surface,
    side: Look,
    judged: Tail,
    *,
    alone: bool = False,
    outlined: OnOutlined | None = None,
) -> Found:
    """Seeds by contrast, cloth dropped, outlines at half contrast, pinholes by missing light.

    Parameters
    ----------
    surface : evenly lit
    side : which voids to look for
    judged : the surface's own tail to that side, whose threshold starts a void
    alone : whether these are single voids that no population speaks for: only what is several
        pixels across and neither long nor soft is kept
    outlined : is told of the voids once they are outlined, before they are sized and judged

    Returns
    -------
    Found
        With what was turned down, and why.
    """
    if surface.is_inverse and side == "bright":
        found, zone = _found(surface, "dark", judged, alone, outlined=outlined)
        return found if zone is None else as_bright(found, zone, surface)
    found = _found(surface, side, judged, alone, outlined=outlined)[0]
    if hides_outlines(surface, found, judged):
        return _found(without_noise(surface), side, judged, alone)[0]
    return found


def _found(
    surface: Surface,
    side: Look,
    judged: Tail,
    alone: bool,
    dashes: BoolImage | None = None,
    *,
    hides: bool = True,
    outlined: OnOutlined | None = None,
) -> tuple[Found, Zone | None]:
    """The voids of one side and their zone, if there are any; see ``find_voids``.

    ``dashes`` are those of a dyed yarn, if some are known; ``hides`` is whether one that is as dark
    as voids are hides them.
    """
    sign = sign_of(side)
    first = seeds_of(surface, sign, judged, dashes, hides=hides)
    seeds, known, turned = first.where, first.known, first.turned
    if not seeds.any():
        return _nothing(surface, turned), None
    repeats, hiding, along, whole = first.repeats, first.hiding, first.along, surface
    del first
    if hiding is not None:
        surface = surface.within(~hiding)
    columns = seeds.shape[1]
    lean = LEAN if side == "dark" and judged.is_two_tone else 0.0
    zone = zone_of(
        seeds,
        surface.ratio,
        surface.inspected,
        sign=sign,
        known=known,
        lean=lean,
        cloth=surface.expected,
        inverse=surface.is_inverse,
    )
    del seeds, known  # as much memory as what follows will want
    rise = outline.rise_of(zone)
    within = outline.outlined(zone, rise)
    mask = within.mask
    perimeters = partial(outline.perimeters, mask, within.at, within.label, zone.count)
    shines = partial(may_have_rim_glints, mask, surface, judged.reach)
    may_shine = sign > 0 and not judged.bare
    around, (has_glints, struck) = both(
        perimeters, lambda: (may_shine and shines(), np.zeros_like(mask))
    )
    fading = fading_out(zone, within, rise, around, surface, side, judged)
    soft = fading.soft
    if soft.any():
        turned.append(judging.turned_down(zone.runs, soft, columns, judging.SOFT))
        at = zone.at[soft[zone.label]]
        mask.ravel()[at] = False
        struck.ravel()[at] = True
    cut_strokes(mask, within, rise.counted, around, surface.px_per_mm)
    sound = zone.sound
    if sign < 0:
        soft = soft & ~fading.creased  # and its glints are not looked at again
    on_folds = folds.outlined_on_folds(surface, zone, rise, soft, sign) if soft.any() else None
    del zone, rise, within  # and here again
    if on_folds is not None:
        mask |= on_folds
        sound = None  # what is about these is the fold, not counted as sound before
    if not mask.any():
        return replace(_nothing(surface, turned), struck=struck, creases=fading.creases), None
    known, glints = _with_glints(mask, surface, judged, at_rims=has_glints)
    found, zone, yarn = _size(
        surface,
        whole.inspected,
        mask,
        known,
        side,
        judged,
        turned,
        struck,
        glints,
        sound,
        repeats=repeats,
        alone=alone,
        outlined=outlined,
    )
    if yarn is not None and dashes is None:
        # What more of it stands out does not lie in file: it is known by these.
        return _found(whole, side, judged, alone, yarn, hides=hides)
    if along is not None:
        found = along.without(found, surface.inspected)
    if hiding is not None and lie_at_yarns(found, hiding):
        return _found(whole, side, judged, alone, dashes, hides=False)
    return replace(found, veiled=fading.veiled, creases=fading.creases, dyed=hiding), zone


def _with_glints(
    mask: BoolImage, surface: Surface, judged: Tail, *, at_rims: bool
) -> tuple[Listed | None, IndexArray]:
    """Fill glints in place: the objects, if these are known after that, and where glints were."""
    known = listed(mask)
    glints = outline.fill_glints(mask, known)
    known = with_filled(known, glints, mask)
    if at_rims:
        bitten = fill_rim_glints(mask, known, surface, judged.reach)
        return None if len(bitten) else known, np.concatenate([glints, bitten])
    return known, glints


def _size(
    surface: Surface,
    inspected: BoolImage,
    mask: BoolImage,
    known: Listed | None,
    side: Look,
    judged: Tail,
    turned: list[Turned],
    struck: BoolImage,
    glints: IndexArray,
    sound: RatioImage | None,
    *,
    repeats: list[Vector],
    alone: bool,
    outlined: OnOutlined | None,
) -> tuple[Found, Zone, BoolImage | None]:
    """The outlined voids with their areas, and what of them is turned down once it is sized.

    With them their zone, and where dashes of a yarn lie, if there are some.
    """
    sign = sign_of(side)
    zone = zone_of(
        mask,
        surface.ratio,
        surface.inspected,
        sign=sign,
        known=known,
        sound=sound,
        cloth=surface.expected,
        inverse=surface.is_inverse,
    )
    if outlined is not None:
        outlined(mask, zone.at[: zone.own], zone.label[: zone.own])
    objects = outlined_objects(zone, mask, glints, many_tones=judged.bare or judged.is_two_tone)
    shapes, height = objects.shapes, objects.rise.height
    by_shape = begun(
        lambda: (
            objects.is_thin(mask.shape),
            run_on(shapes, surface, sign, judged.threshold),
            only_just(shapes, height, surface, look=side, threshold=judged.threshold),
        )
    )
    pocket = np.zeros(zone.count, dtype=bool)
    if not judged.bare:
        pocket = pockets.of_the_cloth(
            surface,
            shapes,
            objects.counted,
            height,
            repeats,
            look=side,
            threshold=judged.threshold,
        )
    noise = is_noise(objects.rise, mask, surface, judged, sign=sign)
    # Pockets are softer than any edge: the blur is that of the rest. Noise widens all edges.
    telling = ~pocket & (np.mean(noise) < MOSTLY_NOISE)
    usual = math.hypot(pinholes.USUAL_PX, surface.evened_px)
    sizes = sizes_of(objects, telling, dark=side == "dark", usual_px=usual)
    kept = np.ones(zone.count, dtype=bool)
    thin, line, barely = by_shape()
    plain = [
        (thin, judging.THIN),
        (pocket, judging.POCKET),
        (noise, judging.NOISE),
        (line, judging.LINE),
    ]
    verdicts = verdicts_on(objects, sizes, plain, surface, inspected, side, judged, turned, alone)
    yarn, dyed = None, sum(len(one.x) for one in turned if one.why == judging.DYED)
    for verdict, why in spared(verdicts, objects, mask.shape):
        drop = kept & verdict
        more = not judged.bare and np.count_nonzero(drop) >= max(FEWEST, MORE * dyed)
        if why == judging.WEAVE and more:
            yarn = zone.drawn(drop)
        if drop.any():
            turned.append(judging.Turned.of(shapes, drop, why))
            kept &= ~drop
    if not kept.all():
        struck.ravel()[zone.at.take(np.flatnonzero((~kept).take(zone.label)))] = True
    found = Found(
        mask,
        shapes,
        sizes.area,
        kept,
        height,
        sizes.unsure_px,
        side,
        judged.threshold,
        _own_blur(sizes.blur_px, surface),
        tuple(turned),
        struck,
        repeats,
        barely=barely,
        soft_px=objects.rise.spread,
        pocket_height=float(np.quantile(height[pocket], POCKETS_REACH)) if pocket.any() else 0.0,
        seam=sizes.seam,
    )
    return found, zone, yarn


def _own_blur(seen_px: float, surface: Surface) -> float:
    """The blur of a picture, without that by which its noise was evened out."""
    return math.sqrt(max(seen_px**2 - surface.evened_px**2, pinholes.SHARPEST_PX**2))


def _nothing(surface: Surface, turned: list[Turned]) -> Found:
    empty = np.zeros(surface.ratio.shape, dtype=bool)
    none, nowhere = np.zeros(0), np.zeros(0, dtype=np.int64)
    return Found(
        empty,
        sized(nowhere, nowhere, count=0, columns=empty.shape[1]),
        none,
        none > 0,
        none,
        none,
        None,
        None,
        None,
        tuple(turned),
        empty,
        [],
    )
