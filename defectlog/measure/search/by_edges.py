"""Voids as faint as the tones of cloth that are no even population, told by their edges.

Among tows that differ as much, voids of many strengths run into these. But a void is as sharp as
the picture all the way round, and tows lie in resin; nor do tows go far to one side alone.
"""

from dataclasses import replace

import numpy as np

from defectlog.measure.arrays.look import Look, sign_of
from defectlog.measure.arrays.threshold import Tail
from defectlog.measure.candidates.comes_again import comes_again
from defectlog.measure.candidates.found import Found
from defectlog.measure.candidates.seeds import beyond
from defectlog.measure.candidates.sides import sample_step
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.search.close_by import is_worth_more, to_what_is_near
from defectlog.measure.search.finding import find_voids
from defectlog.measure.search.fullest_part import fullest_part
from defectlog.units import percent

# What is close by is taken from further than where a population speaks: so wider voids bend it
# less.
WINDOW_MM = 2.0
# How far voids have to be off that, in log units of light: as far as the faintest ones that can be
# told, or further where the cloth itself goes so far.
FAINT = (0.15, 0.2)
# So much of a surface has to be so far off, and so many times what is so to the other side; and
# again of what is kept.
FEWEST, FAR_FEWER = 0.001, 5.0
# What is kept of sound cloth seems blurred by 1.9 pixels and more, and faint voids by 0.9 to 1.7:
# measured on rendered surfaces. Nor is it about as much as is so far off: where little of it is,
# that is the top of swells, and where most of that was turned down, so is the rest.
CRISP_PX, LEAST_OF_IT, MOST_OF_IT = 1.7, 0.4, 3.0
# Up to two thirds of such voids are less far off: all may be so many times what is seen.
UNSEEN = 3.0

LOOKS: tuple[Look, Look] = ("dark", "bright")


def may_be_by_edges(surface: Surface, tails: dict[Look, Tail], before: Found) -> float:
    """The share of a surface that may be faint voids as edges tell them, 0-1.

    They are not counted: now and then steps beside tows and crossings of sound cloth look the same.

    Parameters
    ----------
    surface : evenly lit
    tails : of its light as a whole
    before : what was found by these
    """
    step = sample_step(surface)
    few = surface.sampled(step)
    if not few.inspected_px:
        return 0.0
    few = replace(few, smooth=to_what_is_near(few, window_mm=WINDOW_MM))
    near = None
    for contrast in FAINT:
        share = {side: _share_beyond(few, side, contrast) for side in LOOKS}
        other, side = sorted(share, key=lambda name: share[name])
        if side not in tails or share[side] < max(FEWEST, FAR_FEWER * share[other]):
            continue
        if near is None:
            # How crisp edges are is told through noise as well: it is not evened out.
            near = replace(surface, smooth=to_what_is_near(surface, window_mm=WINDOW_MM), noise=0.0)
        judged = replace(tails[side], threshold=contrast)
        if surface.is_large:
            part = fullest_part(near, side, contrast)
            if _told(part, side, judged, _share_beyond(part, side, contrast)) is None:
                continue
        found = _told(near, side, judged, share[side])
        if found is None or not is_worth_more(found, before, surface):
            continue
        if comes_again(found.drawn(found.kept), surface):
            continue  # the floats of a satin are as crisp
        if found.kept_px >= FAR_FEWER * find_voids(near, other, judged).kept_px:
            return min(UNSEEN * found.kept_px / surface.inspected_px, 1.0)
    return 0.0


def _told(near: Surface, side: Look, judged: Tail, share: float) -> Found | None:
    """What is as crisp as voids, and about as much as the share of it that is so far off."""
    found = find_voids(near, side, judged)
    is_crisp = found.blur_px is not None and found.blur_px <= CRISP_PX
    kept = found.kept_px / near.inspected_px
    return found if is_crisp and LEAST_OF_IT * share < kept < MOST_OF_IT * share else None


def _share_beyond(surface: Surface, side: Look, contrast: float) -> float:
    return np.count_nonzero(beyond(surface, sign_of(side), contrast)) / surface.inspected_px


def beware_of_faint_ones(share: float) -> list[str]:
    """A warning of faint voids that there may be, by the share of the surface they may take."""
    if not share:
        return []
    return [
        "Many faint spots of this surface are as sharp as voids are, but no darker or brighter "
        "than tows of its cloth: they are not counted. If they are voids, they and fainter ones "
        f"may take up to about {percent(share)} of the surface, and the interval reaches so far. "
        "Look at it closely."
    ]
