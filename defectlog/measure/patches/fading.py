"""Whether what is pale ends at an edge, as dry cloth does, or fades out, as what is mirrored does.

A lamp or a window mirrored in resin that is not quite even is a smooth swell of light: it fades
over some millimetres. Dry cloth ends from one bundle of fibres to the next, however ragged its
outline is; it only has to be followed closely, and light tows and dark ones lead astray from it.
"""

from dataclasses import replace

import cv2
import numpy as np

from defectlog.measure.arrays.light import BoolImage, FloatImage, from_cells
from defectlog.measure.cloth.cell_weave import comes_again
from defectlog.measure.cloth.cloth_maps import Cells, ClothMap
from defectlog.measure.patches.halfway import in_rim, largest_of, to_outline
from defectlog.measure.patches.patch_outlines import Candidate

# So near to an outline drawn over tows the edge itself runs; and how much is averaged to follow it.
NEAR_MM, FOLLOWED_MM = 1.2, 0.5
# From how far on either side is taken to be like what it runs between; and how close to the edge
# the two are compared, in cells as well where those are large.
SIDE_MM, CLOSE_MM, CLOSE_CELLS = (0.5, 2.5), 0.5, 1.2
# So close there is this share of the step from side to side at least. Dry cloth on rendered
# surfaces shows 0.43 of it and more, mostly 0.6; a swell of light 0.33 and less.
CLOSE_SHARE = 0.4


def without_weave(cells: Cells) -> Cells:
    """Cells whose grain has not what comes again with the weave."""
    held = _in_fine_cells(cells.held, cells.times, cells.grain.shape) > 0.5
    again = comes_again(cells.grain, held, cells.mm / cells.times)
    return replace(cells, grain=cells.grain - again)


def fades_out(found: Candidate, tone: ClothMap, cells: Cells) -> bool:
    """Whether a pale outline has no edge anywhere near.

    Parameters
    ----------
    found : on the map of tone
    tone : of the surface
    cells : of the map, ``without_weave``
    """
    rows, columns = found.where
    times, mm = cells.times, cells.mm / cells.times
    grain = cells.grain[
        rows.start * times : rows.stop * times, columns.start * times : columns.stop * times
    ]
    light = _in_fine_cells(tone.near[found.where], times, grain.shape) + grain
    held = _in_fine_cells(cells.held[found.where], times, grain.shape) > 0.5
    roughly = _in_fine_cells(found.cells, times, grain.shape) > 0.5
    inner, outer = _either_side(light, held, roughly, SIDE_MM, mm)
    smooth = cv2.GaussianBlur(light, (0, 0), max(FOLLOWED_MM / mm, 0.3))
    drawn = smooth > (inner + outer) / 2
    drawn &= to_outline(~roughly) * mm < NEAR_MM
    drawn |= to_outline(roughly) * mm > NEAR_MM
    closely = largest_of(drawn, roughly)
    if closely is None:
        return True
    close_mm = (0.0, max(CLOSE_MM, CLOSE_CELLS * mm))
    within, beyond = _either_side(light, held, closely, close_mm, mm)
    return within - beyond < CLOSE_SHARE * (inner - outer)


def _in_fine_cells(
    values: FloatImage | BoolImage, times: int, shape: tuple[int, int]
) -> FloatImage:
    return from_cells(values.astype(np.float32), times, shape, smooth=True)


def _either_side(
    light: FloatImage, held: BoolImage, within: BoolImage, reach_mm: tuple[float, float], mm: float
) -> tuple[float, float]:
    """Mean light along an outline inside and outside; nan where nothing of it can be seen."""
    sides = (light[held & in_rim(to_outline(one), reach_mm, mm)] for one in (within, ~within))
    inner, outer = (float(side.mean()) if len(side) else np.nan for side in sides)
    return inner, outer
