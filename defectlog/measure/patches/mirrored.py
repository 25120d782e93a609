"""Cloth as it is without the light that is mirrored in the resin over it.

What is mirrored is added to the light of the cloth: the cloth is paler for it, and swings as much
less, for its own light goes up and down as before about a higher middle. Dry cloth is paler and
swings on.
"""

from collections.abc import Callable
from dataclasses import replace
from functools import cache, partial

import cv2
import numpy as np

from defectlog.measure.arrays.quantiles import middle_of
from defectlog.measure.cloth.cloth_maps import Cells, ClothMap, averaged
from defectlog.measure.patches.asked import AS_A_WHOLE, SURE, Asked, is_met
from defectlog.measure.patches.elsewhere import elsewhere
from defectlog.measure.patches.patch_outlines import Candidate, candidates, judge, rises

# What is mirrored fades out over some tows: deviation of the Gaussian its swing is averaged by.
FADES_MM = 3.0
# With its swing averaged so, an outline is softer than it is: of that less is asked, if the whole
# is far paler. Sound carbon under a window shows half of that and less.
SOFTENED = Asked(0.16, 0.45, 0.2, 2.0, deviations=5.5, unusual=7.0)
ASKED = (*SURE, AS_A_WHOLE, SOFTENED)
# Between voids, and where cloth is rough, it swings more and is no paler: by less than so much.
PALER = 0.12
# What is paler by this share of the step of a patch is of it.
HALFWAY = 0.5


def seen_through(
    tone: ClothMap, swing: ClothMap, cells: Cells, fades: Callable[[Candidate], bool]
) -> list[Candidate]:
    """Find outlines of cloth that is paler for sure whatever is mirrored over it.

    Parameters
    ----------
    tone, swing : of the surface, in log units
    cells : they are in
    fades : whether an outline on the map of tone fades out

    Returns
    -------
    Outlines on the map of tone, as drawn without what is mirrored.
    """
    if not rises(tone, 1, cells, PALER):
        return []
    matt = without_mirrored(tone, swing, cells)
    seen = []
    for found in candidates(matt, 1, cells, least=min(one.step for one in ASKED)):
        there = cache(partial(elsewhere, found, matt, 1, cells.held))
        if not (found.is_compact and found.is_in_the_open):
            continue
        if is_met(found, ASKED, matt, there):
            plain = judge(tone, 1, found.cells, found.where, cells)
            if plain is None or plain.step < PALER:
                continue
            # Over less than some tows what is mirrored is itself a swing of the light.
            if not fades(plain):
                seen.append(replace(plain, above=found.above))
    return seen


def is_pale_beyond(
    found: Candidate, wider: Candidate, tone: ClothMap, swing: ClothMap, cells: Cells
) -> bool:
    """Whether a wider outline has more of the same patch than one seen without what is mirrored.

    Parameters
    ----------
    found, wider : outlines on the map of tone
    tone, swing : of the surface, in log units
    cells : they are in

    Notes
    -----
    A pane of light over a part of a patch leaves the rest with the sharper edge, but takes nothing
    of the patch away: without what is mirrored all of it is paler than the cloth about it, while
    where the wider outline follows the pane beyond the patch there is nothing left.
    """
    inner, more, around = (np.zeros_like(cells.held) for _ in range(3))
    inner[found.where], more[wider.where] = found.cells, wider.cells
    around[wider.where] = wider.rims[1]
    more &= cells.held & ~cv2.dilate(inner.view(np.uint8), np.ones((3, 3), np.uint8)).view(np.bool_)
    if not (more.any() and around.any()):
        return False
    own = without_mirrored(tone, swing, cells).own
    return bool(own[more].mean() - own[around].mean() > HALFWAY * found.step)


def without_mirrored(tone: ClothMap, swing: ClothMap, cells: Cells) -> ClothMap:
    """The tone of the cloth, less what it has gained where its swing has lost as much.

    Parameters
    ----------
    tone, swing : of the surface, in log units
    cells : they are in

    Returns
    -------
    ClothMap

    Notes
    -----
    With L (1 + s) the light of cloth that swings by s, and g L what is mirrored, tone gains
    log(1 + g) and the logarithm of the swing, s / (1 + g), loses as much: their sum stays.
    """
    lost = averaged(swing.wide, cells.held, FADES_MM / cells.mm)
    wide = tone.wide + lost
    middle = np.float32(middle_of(wide[cells.held]))
    lost -= middle
    wide -= middle
    spread = 1.4826 * float(middle_of(np.abs(wide[cells.held])))
    return ClothMap(wide, tone.near + lost, tone.own + lost, max(spread, 1e-3), tone.tows_step)
