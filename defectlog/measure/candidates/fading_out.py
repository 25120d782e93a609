"""What has no edge to be outlined by: shadows, folds, and the flanks of creases and of glare."""

from dataclasses import dataclass, replace

import numpy as np

from defectlog.measure.arrays.light import BoolImage, as_share
from defectlog.measure.arrays.look import Look, sign_of
from defectlog.measure.arrays.pixels import FloatArray
from defectlog.measure.arrays.threshold import Tail
from defectlog.measure.candidates.creases import Creases, creases_of
from defectlog.measure.candidates.glare_flanks import lie_on_flanks
from defectlog.measure.candidates.verdicts import reach_of
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.outlines import judging, outline
from defectlog.measure.outlines.zone import Zone

# From this area on an object may be a fringed patch: one whose core is so much of the disc of
# its area. A web of tows or the shading of a fold has none.
FRINGED_PX2, FRINGED_CORE, FRINGED_EDGE = 400, 0.25, 0.45
# A swell of light is outlined in a ragged way, for cloth and noise lie over it: its edge seems
# narrow, being long. But of a Gaussian ln(0.65 / 0.35) / ln 2 = 0.89 of what lies beyond half of
# its rise lies between 35 and 65 %; of a pale void this large in a blurred picture 0.35.
SWELL_PX2, SWELL_SHARE = 600, 0.4


@dataclass(frozen=True, slots=True, eq=False)
class Fading:
    """Which objects fade out, an entry each, and what that is told by.

    ``creased`` are those of them on the flank of a crease or of glare. ``veiled`` is where the
    latter lie on the picture, None if there are none.
    """

    soft: BoolImage
    creased: BoolImage
    creases: Creases | None
    veiled: BoolImage | None


def fading_out(
    zone: Zone,
    within: outline.Outlined,
    rise: outline.Rise,
    around: FloatArray,
    surface: Surface,
    side: Look,
    judged: Tail,
) -> Fading:
    """Which objects fade out into the surface.

    Parameters
    ----------
    zone : of the objects
    within : their outlines
    rise : (n,) how each rises from the surface about it
    around : (n,) length of each outline in pixels
    surface : they lie on
    side : which voids are looked for
    judged : the tail they stand out of
    """
    half = judging.half_width(rise.counted, around)
    edge = outline.edge_width(rise, around)
    soft = outline.is_soft(edge, half)
    if side == "bright" and soft.any():
        large = soft & (rise.counted > FRINGED_PX2) & (edge < FRINGED_EDGE * half)
        soft &= ~_is_fringed(zone, rise, edge, large, within.mask.shape)
    if side == "bright":
        soft |= (rise.counted > SWELL_PX2) & (rise.spread > SWELL_SHARE * rise.counted)
    lying = rise
    if judged.bare:
        lying = replace(rise, around=np.zeros_like(rise.around))  # tows are dark, and no folds
    soft |= judging.is_fold(
        lying, around, px_per_mm=surface.px_per_mm, reach=reach_of(side, judged)
    )
    creases = creases_of(surface, rise.counted, around, sign=sign_of(side))
    creased = np.zeros(zone.count, dtype=bool)
    if creases is not None:
        creased = creases.hold(
            within.at, within.label, rise.counted, rise.height, within.mask.shape
        )
    veiled = None
    if side == "bright" and surface.glare is not None:
        asked = as_share(judged.threshold, dark=False)
        flank = lie_on_flanks(
            within.at,
            within.label,
            rise,
            surface.glare,
            asked=asked,
            px_per_mm=surface.px_per_mm,
        )
        creased |= flank
        veiled = zone.drawn(flank) if flank.any() else None
    return Fading(soft | creased, creased, creases, veiled)


def _is_fringed(
    zone: Zone, rise: outline.Rise, edge: FloatArray, large: BoolImage, shape: tuple[int, int]
) -> BoolImage:
    """Which large pale objects are patches with fringes, whose edges are sharp for their core.

    Dry cloth is pale, and fringed along its tows; what is dark so may be a shadow.
    """
    own = slice(0, zone.own)
    widest = outline.widest_half(zone.at[own], zone.label[own], large, shape)
    core = widest > FRINGED_CORE * np.sqrt(rise.counted / np.pi)
    return large & core & ~outline.is_soft(edge, widest)
