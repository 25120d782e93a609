"""Voids on a photo of a surface: the steps in order, nothing else."""

import math
import time
from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from defectlog.measure import beware, folds, judging, outline, pinholes
from defectlog.measure.crumbs import as_share, crumbs_of, without_crumbs
from defectlog.measure.halves import in_two
from defectlog.measure.hand_set import STEPS, beware_of_hand, found_by_hand, step_of
from defectlog.measure.joining import small_voids, with_patches
from defectlog.measure.judging import Turned
from defectlog.measure.light import ONE, BoolImage, RatioImage, as_ratio, grey_of
from defectlog.measure.memory import keep_freed_memory
from defectlog.measure.patches import Patch, find_patches
from defectlog.measure.pixels import IndexArray, Numbered, numbered
from defectlog.measure.region import Region, inspected_region
from defectlog.measure.result import Look, VoidMeasurement
from defectlog.measure.scale import NO_SCALE, Polygon, Scale, given_scale
from defectlog.measure.shapes import shapes_of, sized
from defectlog.measure.summary import SMALLEST_PX, Found, summarise
from defectlog.measure.surface import LIGHT_MM, Surface, prepare
from defectlog.measure.threshold import SMALLEST_SHARE, Tail, tail
from defectlog.measure.weave import LEAST_REPEATING, Vector, objects_of, repeating, weave_repeats
from defectlog.measure.zone import zone_of

SAMPLE_PX = 500_000
LONE_PX2 = 20
# How far beyond the cloth's own contrast a void on it has to be, as a share of that.
DEEPER = 0.4
# Voids reach as far from the surface as the surface does to the other side, nearly or more.
STANDS_OUT = 0.8
# Once what does not belong is taken out and the rest is a weaker population than is asked
# for, it has to stand out so much further.
STANDS_FAR_OUT = 4.0


def measure_voids(
    image: NDArray[np.uint8],
    *,
    px_per_mm: float | None = None,
    region: Region | None = None,
    look: Literal["auto", "dark", "bright"] = "auto",
    smallest_mm: float | None = None,
    scale: Scale | None = None,
    threshold: float | None = None,
    leave_out: Sequence[Polygon] = (),
) -> VoidMeasurement:
    """Measure the voids that show on a surface.

    Parameters
    ----------
    image : (M, N) grey or (M, N, 3) red-green-blue array, uint8, upright
    px_per_mm : of the picture, if that is all that is known of its scale
    region : what to inspect: (x, y, width, height), a polygon of (x, y), or an (M, N) bool
        mask, in pixels of the picture; None for all of it
    look : whether voids are darker or brighter than the surface; ``"auto"`` finds out
    smallest_mm : voids of smaller diameter are left out; needs a scale
    scale : from ``find_card`` and the like, instead of ``px_per_mm``: sizes then allow for
        tilt, and the card itself is left out of the region
    threshold : set by hand, 0.05 to 0.95, in steps of 0.005: the share of light a pixel has to
        lack against the surface around it to count (of a bright void, the surface against
        the pixel). Every such pixel counts, nothing is judged; None finds voids by itself
    leave_out : outlines of (x, y) that are not inspected

    Returns
    -------
    VoidMeasurement

    Raises
    ------
    NoContrastError
        If the region is all of one shade.
    NothingInspectedError
        If the region, less the card and glare, holds less than 2500 pixels.
    RegionError, BadScaleError
        If the region, an outline to leave out, or the scale is none.
    BadThresholdError
        If the threshold is out of range.

    Notes
    -----
    The surface itself says what is a void: its light is made linear and even, and pixels
    count as void only where a second population shows beyond the surface's own tail.
    Outlines run halfway in light between each void and the surface round it; voids a few
    pixels across are sized by the light they take away. Nothing is random: the same
    picture gives the same figures.
    """
    began = time.perf_counter()
    keep_freed_memory()
    if look not in ("auto", "dark", "bright"):
        raise ValueError(f"look is auto, dark or bright, not {look!r}")
    if scale is None:
        scale = NO_SCALE if px_per_mm is None else given_scale(px_per_mm)
    grey = grey_of(image)
    inside = inspected_region(region, grey.shape, scale.card_outlines, leave_out)
    by_hand = None if threshold is None else step_of(threshold) / STEPS
    surface = prepare(grey, inside, scale.px_per_mm)
    sides = _tails(surface, look)
    side = _side_of(sides)
    patches: tuple[Patch, ...] = ()
    if by_hand is None:
        found, judged = _judged(surface, sides, side)
        other = next((name for name in sides if name != side), None)
        if other is not None and not found.kept.any():
            # What spoke for this side was no void; the other one may have some all the same.
            tried, judged_there = _judged(surface, sides, other)
            if tried.kept.any():
                found, judged, side = tried, judged_there, other
        patches = find_patches(surface, small_voids(found, surface))
        found, patches = with_patches(found, surface, patches, look=look)
        found = _without_crumbs(found, surface, side)
    else:
        found = found_by_hand(surface, side, by_hand)
    settings = {
        "look": look,
        "smallest_mm": smallest_mm,
        "smallest_px": SMALLEST_PX * surface.shrink,
        "light_mm": LIGHT_MM,
        "worked_at": 1 / surface.shrink,
    }
    if by_hand is not None:
        settings["threshold"] = by_hand
    if leave_out:
        settings["leave_out"] = [[[float(x), float(y)] for x, y in one] for one in leave_out]
    measured = summarise(
        grey.shape,
        surface,
        found,
        scale=scale,
        smallest_mm=smallest_mm,
        settings=settings,
        outlined=region is not None,
    )
    doubts = beware.of_picture(grey, measured.inspected_mask)
    if by_hand is None:
        doubts += beware.of_finding(
            judged,
            next((tail for name, tail in sides.items() if name != side), None),
            found.blur_px,
            found=measured.count > 0,
            shrink=surface.shrink,
            outlined=region is not None,
        )
        doubts += beware.of_patches(patches, scale.px_per_mm, surface)
        doubts += beware.of_turned(
            found.turned,
            sum(void.area_px for void in measured.voids),
            measured.inspected_px,
            shrink=surface.shrink,
        )
    else:
        doubts += beware_of_hand(by_hand, side)
    return replace(
        measured,
        warnings=measured.warnings + tuple(doubts),
        seconds=time.perf_counter() - began,
    )


def side_of_voids(surface: Surface, look: Literal["auto", "dark", "bright"]) -> Look:
    """The side voids are looked for on: the one asked for, or the one they show on."""
    return _side_of(_tails(surface, look))


def _judged(surface: Surface, sides: dict[Look, Tail], side: Look) -> tuple[Found, Tail]:
    """The voids on a side as the surface itself tells them, and the tail they were told by."""
    judged = sides[side]
    found = _find(surface, side, judged) if judged.has_voids else None
    if found is not None and _mostly_struck(found):
        # A hair or a fold may have been what stood out: judge again without it.
        judged = _tails(surface, side, without=found.struck)[side]
    if found is None or not _stands_out(found, judged):
        before = found
        found = _lone(surface, side, judged)
        if before is not None:
            found = replace(
                found, turned=before.turned + found.turned, struck=before.struck | found.struck
            )
    return found, judged


def _without_crumbs(found: Found, surface: Surface, side: Look) -> Found:
    """Without the specks that nothing speaks for once a few large voids are left out."""
    crumbs = crumbs_of(found, surface)
    if crumbs is None:
        return found
    specks, about = crumbs
    rest = _tails(surface, side, without=about)[side]
    if rest.has_voids:
        return found
    return without_crumbs(found, specks, as_share(rest.lone, dark=side == "dark"))


def _side_of(sides: dict[Look, Tail]) -> Look:
    """The side voids are on if there are any; dark, where nothing speaks for either."""
    side = max(sides, key=lambda name: sides[name].kink)
    if not sides[side].has_voids and "dark" in sides:
        side = "dark"
    return side


def _tails(surface: Surface, look: str, without: BoolImage | None = None) -> dict[Look, Tail]:
    """Both sides of the surface's distribution of light, or the one asked for."""
    step = max(1, math.isqrt(surface.smooth.size // SAMPLE_PX))
    some = (slice(None, None, step), slice(None, None, step))
    within = surface.inspected[some]
    if without is not None:
        within = within & ~without[some]
    values = surface.smooth[some][within]
    light = np.log(np.maximum(as_ratio(values), np.float32(1e-3)))
    signs: dict[Look, int] = {"dark": -1, "bright": 1}
    if look != "auto":
        return {look: tail(signs[look] * light, least_sd=surface.grey_step)}
    tails = in_two(lambda sign: tail(sign * light, least_sd=surface.grey_step), *signs.values())
    return dict(zip(signs, tails, strict=True))


def _mostly_struck(found: Found) -> bool:
    """Whether more of what was found was turned down, with its surroundings, than kept."""
    return np.count_nonzero(found.struck) > 0.5 * float(found.area[found.kept].sum())


def _find(surface: Surface, side: Look, judged: Tail, *, alone: bool = False) -> Found:
    """Seeds by contrast, cloth dropped, outlines at half contrast, pinholes by missing light."""
    sign = 1.0 if side == "dark" else -1.0
    seeds, known, turned, repeats = _seeds(surface, sign, judged)
    if not seeds.any():
        return _nothing(surface, turned)
    columns = seeds.shape[1]
    zone = zone_of(seeds, surface.ratio, surface.inspected, sign=sign, known=known)
    rise = outline.rise_of(zone)
    within = outline.outlined(zone, rise)
    mask = within.mask
    around = outline.perimeters(mask, within.at, within.label, zone.count)
    soft = outline.is_soft(
        outline.edge_width(rise, around), judging.half_width(rise.counted, around)
    )
    soft |= judging.is_fold(rise, around, px_per_mm=surface.px_per_mm, reach=_reach(side, judged))
    struck = np.zeros_like(mask)
    if soft.any():
        own = slice(0, zone.own)
        turned.append(
            judging.turned_down(zone.at[own], zone.label[own], soft, columns, judging.SOFT)
        )
        at = zone.at[soft[zone.label]]
        mask.ravel()[at] = False
        struck.ravel()[at] = True
    sound = zone.sound
    on_folds = folds.outlined_on_folds(surface, zone, rise, soft, sign) if soft.any() else None
    del seeds, known, zone, rise, within  # as much memory as the next step will want
    if on_folds is not None:
        mask |= on_folds
        sound = None  # what is about these is the fold, not counted as sound before
    if not mask.any():
        return replace(_nothing(surface, turned), struck=struck)
    glints = outline.fill_glints(mask)
    found = _size(surface, mask, side, judged, turned, struck, glints, sound, alone=alone)
    return replace(found, repeats=repeats)


def _reach(side: Look, judged: Tail) -> float:
    """How far the surface itself goes to the side away from voids, as a share of its light."""
    return math.expm1(judged.reach) if side == "dark" else -math.expm1(-judged.reach)


def _stands_out(found: Found, judged: Tail) -> bool:
    """Whether what was found differs more from the surface than the surface does from itself."""
    if not found.kept.any():
        return True
    reach = _reach(found.look, judged)
    height = judging.middle_height(found.height[found.kept], found.area[found.kept])
    return height >= (STANDS_OUT if judged.has_voids else STANDS_FAR_OUT) * reach


def _lone(surface: Surface, side: Look, judged: Tail) -> Found:
    """A few voids too small a share of the surface to show as a population of their own.

    Only what stands far out of the surface, is several pixels across and neither long (a
    hair, a scratch) nor soft is taken for one.
    """
    return _find(surface, side, replace(judged, threshold=judged.lone), alone=True)


def _seeds(
    surface: Surface, sign: float, judged: Tail
) -> tuple[BoolImage, Numbered | None, list[Turned], list[Vector]]:
    """Pixels beyond the threshold, without what recurs with the weave.

    With them, if nothing had to be taken out, the numbers of the objects they make; and else
    what was taken out. Last the repeats of the weave, where there was enough to ask for them.
    """
    seeds = _beyond(surface, sign, judged.threshold)
    known = numbered(seeds)
    if known.count < LEAST_REPEATING:
        return seeds, known, [], []
    vectors, objects = in_two(
        lambda work: work(),
        lambda: weave_repeats(surface.ratio, surface.inspected, px_per_mm=surface.px_per_mm),
        lambda: objects_of(known.labels, at=known.at),
    )
    cloth = repeating(objects, vectors)
    if not cloth.any():
        return seeds, known, [], vectors
    columns = seeds.shape[1]
    dropped = judging.turned_down(objects.at, objects.label, cloth, columns, judging.WEAVE)
    yarn = cloth[known.labels]
    seeds &= ~yarn | _deeper(surface, yarn, sign)
    # It may have been the cloth alone that stood out; a few leftovers have to as well.
    if np.count_nonzero(seeds) < SMALLEST_SHARE * np.count_nonzero(surface.inspected):
        seeds &= _beyond(surface, sign, judged.lone)
    return seeds, None, [dropped], vectors


def _beyond(surface: Surface, sign: float, threshold: float) -> BoolImage:
    """Inspected pixels of more contrast than a threshold in log units of light."""
    level = np.uint16(min(round(ONE * math.exp(-sign * threshold)), 65_535))
    beyond = surface.smooth < level if sign > 0 else surface.smooth > level
    if not surface.is_whole:
        beyond &= surface.inspected
    return beyond


def _deeper(surface: Surface, yarn: BoolImage, sign: float) -> BoolImage:
    """What lies in the cloth that was dropped, but far beyond what the cloth itself shows."""
    light = as_ratio(surface.smooth[yarn])
    middle = float(np.median(light))
    sd = 1.4826 * float(np.median(np.abs(light - middle)))
    beyond = max(5 * sd, DEEPER * abs(1 - middle))
    if sign > 0:
        return yarn & (surface.smooth < ONE * (middle - beyond))
    return yarn & (surface.smooth > ONE * (middle + beyond))


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
    alone: bool,
) -> Found:
    """Areas of the outlined voids: pixels counted, or light summed where they are small."""
    sign = 1.0 if side == "dark" else -1.0
    zone = zone_of(mask, surface.ratio, surface.inspected, sign=sign, sound=sound)
    rise = outline.rise_of(zone)
    shapes = sized(
        zone.at[: zone.own],
        zone.label[: zone.own],
        zone.edge,
        zone.edge_label,
        count=zone.count,
        columns=mask.shape[1],
    )
    within = np.bincount(zone.ground.ravel().take(glints) - 1, minlength=zone.count)
    counted, height, missing = rise.counted + within, rise.height, rise.missing
    around = outline.perimeters(mask, zone.edge, zone.edge_label, zone.count)
    edge, half = outline.edge_width(rise, around), judging.half_width(counted, around)
    middling = counted < 500
    sigma = (
        judging.blur_of_strong(edge, half, height)
        or pinholes.blur_by_contrast(missing[middling], height[middling])
        or pinholes.USUAL_PX
    )
    thin = judging.is_thin(shapes.at, shapes.label, mask.shape, counted, around)
    length, breadth = shapes.length, shapes.breadth
    contrast = pinholes.resolved_contrast(
        missing, height, length, breadth, sigma, most=1 - rise.around if side == "dark" else np.inf
    )
    by_light = missing / contrast
    by_count = counted * pinholes.unblurred(breadth, sigma) * pinholes.unblurred(length, sigma)
    small = (breadth < pinholes.COUNTED_FROM_PX) & (by_light > 0) & (within == 0)
    area = np.where(small, by_light, by_count)

    kept = np.ones(zone.count, dtype=bool)
    verdicts = [(thin, judging.THIN)]
    if alone:
        words = np.array(shapes.words, dtype=str)
        verdicts.append(((area < LONE_PX2) | (words == "long"), judging.ALONE))
    else:
        verdicts.append((judging.is_hump(half, edge, height, sigma), judging.FAINT))
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
        rise.spread,
        side,
        judged.threshold,
        sigma,
        tuple(turned),
        struck,
        [],
    )


def _nothing(surface: Surface, turned: list[Turned]) -> Found:
    empty = np.zeros(surface.ratio.shape, dtype=bool)
    none = np.zeros(0)
    return Found(
        empty,
        shapes_of(empty),
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
