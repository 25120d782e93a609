"""The voids of a surface beyond a threshold: outlines, sizes, and what is turned down."""

import math
from dataclasses import replace
from functools import partial

import numpy as np

from defectlog.measure import dashes, folds, judging, outline, pinholes, pockets
from defectlog.measure.barely import only_just
from defectlog.measure.creases import on_creases
from defectlog.measure.fraction import OUTLINE_OFF
from defectlog.measure.glints import fill_rim_glints, may_have_rim_glints
from defectlog.measure.halves import both
from defectlog.measure.judging import Turned
from defectlog.measure.light import BoolImage, RatioImage
from defectlog.measure.pixels import FloatArray, IndexArray
from defectlog.measure.result import Look
from defectlog.measure.running_on import run_on
from defectlog.measure.seeds import seeds_of
from defectlog.measure.shapes import sized
from defectlog.measure.summary import Found
from defectlog.measure.surface import Surface
from defectlog.measure.threshold import Tail
from defectlog.measure.weave import Vector
from defectlog.measure.zone import Zone, zone_of

LONE_PX2 = 20
# How far off the blur may be that pinholes are sized by: seen at the edges of larger voids, or
# guessed by how contrast hangs on size.
BLUR_SEEN_OFF, BLUR_GUESSED_OFF = 0.04, 0.2
# Dark voids on two-tone cloth touch dark tows and bright ones: the surface they are set off from
# is a little darker than the mean of both.
LEAN = 0.2
# From this area on an object may be a fringed patch: one whose core is so much of the disc of
# its area. A web of tows or the shading of a fold has none.
# Of what lies on cloth that is known, these many times the least contrast is asked of the whole of
# it.
STANDS_OUT = 1.1
FRINGED_PX2, FRINGED_CORE, FRINGED_EDGE = 400, 0.25, 0.45


def find_voids(surface: Surface, side: Look, judged: Tail, *, alone: bool = False) -> Found:
    """Seeds by contrast, cloth dropped, outlines at half contrast, pinholes by missing light.

    Parameters
    ----------
    surface : evenly lit
    side : which voids to look for
    judged : the surface's own tail to that side, whose threshold starts a void
    alone : whether these are single voids that no population speaks for: only what is several
        pixels across and neither long nor soft is kept

    Returns
    -------
    Found
        With what was turned down, and why.
    """
    sign = 1.0 if side == "dark" else -1.0
    seeds, known, turned, repeats = seeds_of(surface, sign, judged)
    if not seeds.any():
        return _nothing(surface, turned)
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
    )
    rise = outline.rise_of(zone)
    within = outline.outlined(zone, rise)
    mask = within.mask
    perimeters = partial(outline.perimeters, mask, within.at, within.label, zone.count)
    shines = partial(may_have_rim_glints, mask, surface, judged.reach)
    may_shine = sign > 0 and not judged.bare
    (around, has_glints), outlines = both(
        lambda: (perimeters(), may_shine and shines()),
        partial(outline.outlines_of, mask),
    )
    half = judging.half_width(rise.counted, around)
    edge = outline.edge_width(rise, around)
    soft = outline.is_soft(edge, half)
    if sign < 0 and soft.any():
        soft &= ~_is_fringed(zone, rise, edge, half, mask.shape)
    lying = rise
    if judged.bare:
        lying = replace(rise, around=np.zeros_like(rise.around))  # tows are dark, and no folds
    soft |= judging.is_fold(
        lying, around, px_per_mm=surface.px_per_mm, reach=reach_of(side, judged)
    )
    creased = on_creases(
        surface, within.at, within.label, rise.counted, around, rise.height, sign=sign
    )
    soft |= creased
    struck = np.zeros_like(mask)
    if soft.any():
        outlines = None  # nor will they be those of what is left
        own = slice(0, zone.own)
        turned.append(
            judging.turned_down(zone.at[own], zone.label[own], soft, columns, judging.SOFT)
        )
        at = zone.at[soft[zone.label]]
        mask.ravel()[at] = False
        struck.ravel()[at] = True
    sound = zone.sound
    if sign < 0:
        soft &= ~creased  # and its glints are not looked at again
    on_folds = folds.outlined_on_folds(surface, zone, rise, soft, sign) if soft.any() else None
    del seeds, known, zone, rise, within  # as much memory as the next step will want
    if on_folds is not None:
        mask |= on_folds
        sound = None  # what is about these is the fold, not counted as sound before
    if not mask.any():
        return replace(_nothing(surface, turned), struck=struck)
    glints = outline.fill_glints(mask, outlines)
    if has_glints:
        glints = np.concatenate([glints, fill_rim_glints(mask, surface, judged.reach)])
    return _size(
        surface, mask, side, judged, turned, struck, glints, sound, repeats=repeats, alone=alone
    )


def _is_fringed(
    zone: Zone, rise: outline.Rise, edge: FloatArray, half: FloatArray, shape: tuple[int, int]
) -> BoolImage:
    """Which pale objects are patches with fringes, whose edges are sharp for their core.

    Dry cloth is pale, and fringed along its tows; what is dark so may be a shadow.
    """
    large = (rise.counted > FRINGED_PX2) & (edge < FRINGED_EDGE * half)
    own = slice(0, zone.own)
    widest = outline.widest_half(zone.at[own], zone.label[own], large, shape)
    core = widest > FRINGED_CORE * np.sqrt(rise.counted / np.pi)
    return large & core & ~outline.is_soft(edge, widest)


def reach_of(side: Look, judged: Tail) -> float:
    """How far the surface itself goes to the side away from voids, as a share of its light."""
    return math.expm1(judged.reach) if side == "dark" else -math.expm1(-judged.reach)


def _size(
    surface: Surface,
    mask: BoolImage,
    side: Look,
    judged: Tail,
    turned: list[Turned],
    struck: BoolImage,
    glints: IndexArray,
    sound: RatioImage | None,
    *,
    repeats: list[Vector],
    alone: bool,
) -> Found:
    """Areas of the outlined voids: pixels counted, or light summed where they are small."""
    sign = 1.0 if side == "dark" else -1.0
    zone = zone_of(
        mask,
        surface.ratio,
        surface.inspected,
        sign=sign,
        sound=sound,
        cloth=surface.expected,
    )
    rise, (shapes, around) = both(
        lambda: outline.rise_of(zone),
        lambda: (
            sized(
                zone.at[: zone.own],
                zone.label[: zone.own],
                count=zone.count,
                columns=mask.shape[1],
            ),
            outline.perimeters(mask, zone.edge, zone.edge_label, zone.count),
        ),
    )
    within = np.bincount(zone.ground.ravel().take(glints) - 1, minlength=zone.count)
    counted, height, missing = rise.counted + within, rise.height, rise.missing
    edge, half = outline.edge_width(rise, around), judging.half_width(counted, around)
    pocket = np.zeros(zone.count, dtype=bool)
    if not judged.bare:
        pocket = pockets.of_the_cloth(
            surface, shapes, counted, height, repeats, look=side, threshold=judged.threshold
        )
    # Pockets are softer than any edge: the blur is that of the rest.
    middling = (counted < 500) & ~pocket
    seen = judging.blur_of_strong(edge[~pocket], half[~pocket], height[~pocket])
    sigma = (
        seen or pinholes.blur_by_contrast(missing[middling], height[middling]) or pinholes.USUAL_PX
    )
    thin = judging.is_thin(shapes.at, shapes.label, mask.shape, counted, around)
    length, breadth = shapes.length, shapes.breadth
    most = 1 - rise.around if side == "dark" else np.inf
    by_light, by_more_blur = (
        missing
        / pinholes.resolved_contrast(
            missing, height, length, breadth, blur, around=rise.around, most=most
        )
        for blur in (sigma, sigma * (1 + (BLUR_SEEN_OFF if seen else BLUR_GUESSED_OFF)))
    )
    by_count = counted * pinholes.unblurred(breadth, sigma) * pinholes.unblurred(length, sigma)
    small = (breadth < pinholes.COUNTED_FROM_PX) & (by_light > 0) & (within == 0)
    area = np.where(small, by_light, by_count)
    # What a blur that is a little off does to pinholes, as if their outlines were.
    unsure = np.where(small, np.abs(by_more_blur - by_light), 0) / OUTLINE_OFF

    reach = reach_of(side, judged)
    kept = np.ones(zone.count, dtype=bool)
    verdicts = [(thin, judging.THIN)]
    verdicts.append((run_on(shapes, surface, sign), judging.LINE))
    if not judged.bare:
        verdicts.append((dashes.in_file(shapes, area, height, turned), judging.WEAVE))
        verdicts.append((pocket, judging.POCKET))
    if alone:
        words = np.array(shapes.words, dtype=str)
        verdicts.append(((area < LONE_PX2) | (words == "long"), judging.ALONE))
    elif not judged.bare:
        hump = judging.is_hump(half, edge, height, rise.around, sigma, reach)
        verdicts.append((hump, judging.FAINT))
    if judged.bare:
        # On a dark tow a void takes little light, but as much of what there is.
        of_cloth = height / np.maximum(1 - rise.around, 0.05)
        hump = judging.is_hump(half, edge, of_cloth, np.zeros_like(of_cloth), sigma, reach)
        least = -math.expm1(-judged.threshold)
        hump |= of_cloth < STANDS_OUT * least
        verdicts.append((hump, judging.FAINT))
    # What is turned down one by one lies where cloth lies, and says nothing of the rest.
    rest = ~np.logical_or.reduce([verdict for verdict, _ in verdicts])
    if not judged.bare and judging.lie_on_folds(rise, area * rest, reach=reach):
        verdicts.append((kept, judging.SOFT))
    for verdict, why in verdicts:
        drop = kept & verdict
        if drop.any():
            columns = mask.shape[1]
            turned.append(judging.turned_down(shapes.at, shapes.label, drop, columns, why))
            struck.ravel()[zone.at[drop[zone.label]]] = True
            kept &= ~drop
    return Found(
        mask,
        shapes,
        area,
        kept,
        height,
        rise.spread + unsure,
        side,
        judged.threshold,
        sigma,
        tuple(turned),
        struck,
        repeats,
        barely=only_just(shapes, height, surface, look=side, threshold=judged.threshold),
    )


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
