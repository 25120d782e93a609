"""Whether more voids lie in some parts of a surface than in others."""

import math

import cv2
import numpy as np

from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.arrays.pixels import FloatArray

# Parts along each side: so many that one holds some eight voids, within these.
FEWEST_PARTS, MOST_PARTS, PER_PART = 2, 6, 8.0
PIXELS_A_PART = 40  # along a side, that say how much of it is surface
LEAST_EXPECTED = 2.0  # of voids; a sliver of surface with less to expect says nothing
# One surface in a thousand is called gathered by chance, and none for as little as that the
# counts differ by twice what chance has.
NORMAL_999, TIMES_CHANCE = 3.0902, 2.0


def gathers_in_parts(centres: FloatArray, inspected: BoolImage) -> bool:
    """Whether the counts of voids in parts of a surface differ by more than chance has them.

    Parameters
    ----------
    centres : (n, 2), x and y in pixels of ``inspected``
    inspected : (M, N) bool

    Notes
    -----
    Pearson's chi-square of counts in squares, each expected to hold its share of the surface
    (the index of dispersion; Fisher, Statistical Methods for Research Workers, 1925). The
    distance to the nearest neighbour tells heaps a few voids wide, and says nothing where voids
    that do not touch are many here and few there.
    """
    n = len(centres)
    cuts = int(np.clip(math.sqrt(n / PER_PART), FEWEST_PARTS, MOST_PARTS))
    rows, columns = inspected.shape
    if min(rows, columns) < cuts:
        return False
    step = max(1, min(rows, columns) // (PIXELS_A_PART * cuts))
    some = inspected[::step, ::step].astype(np.float32)
    if not some.any():
        return False  # a strip
    share = cv2.resize(some, (cuts, cuts), interpolation=cv2.INTER_AREA)
    expected = n * share.astype(np.float64) / float(share.sum())
    places = (centres[:, ::-1] + 0.5) / (rows, columns) * cuts
    down, across = np.clip(places.astype(np.int64), 0, cuts - 1).T
    counted = np.zeros((cuts, cuts))
    np.add.at(counted, (down, across), 1.0)
    told = expected >= LEAST_EXPECTED
    freedom = int(np.count_nonzero(told)) - 1
    if freedom < 1 or not counted[told].any():
        return False
    # Slivers left out, the others share out what is in them.
    expected *= counted[told].sum() / expected[told].sum()
    chi2 = float(np.sum((counted[told] - expected[told]) ** 2 / expected[told]))
    return chi2 > max(_chi2_quantile(freedom), TIMES_CHANCE * freedom)


def _chi2_quantile(freedom: int) -> float:
    """The value that chi-square exceeds once in a thousand times (Wilson and Hilferty, 1931)."""
    part = 2 / (9 * freedom)
    return float(freedom * (1 - part + NORMAL_999 * math.sqrt(part)) ** 3)
