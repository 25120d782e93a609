"""Whether voids lie clustered, at random or evenly spread."""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

FLANN_KD_TREE, FLANN_EXACT = 4, -1  # one tree, looked through to the end
# √((4 - π) / 4π) as Clark and Evans print it.
CLARK_EVANS_SE = 0.26136


@dataclass(frozen=True, slots=True)
class Spacing:
    """The Clark–Evans index: below 1 clustered, 1 at random, up to 2.149 evenly spread.

    ``z`` is its distance from random placing in standard errors, from which ``word`` is
    taken at the 5 % level. ``edge_corrected`` says whether the edge of the surface was
    allowed for.
    """

    index: float
    z: float
    count: int
    mean_distance: float
    expected_distance: float
    edge_corrected: bool

    @property
    def word(self) -> str:
        """``clustered``, ``evenly spread`` or ``at random``."""
        if abs(self.z) < 1.96:
            return "at random"
        return "clustered" if self.z < 0 else "evenly spread"


def clark_evans(
    points: NDArray[np.floating], area: float, *, perimeter: float | None = None
) -> Spacing | None:
    """Nearest-neighbour index of points on a surface.

    Parameters
    ----------
    points : (n, 2), in any unit of length
    area : of the surface they lie on, in that unit squared
    perimeter : length of its edge; with it the index allows for neighbours out of sight

    Returns
    -------
    Spacing or None
        None for fewer than two points: there is no index.

    Notes
    -----
    Clark and Evans, Ecology 35 (1954) 445–453; with a perimeter the expected distance and
    its error are those of Donnelly (1978), made for rectangles and compact regions.
    """
    places = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    n = len(places)
    if n < 2 or area <= 0:
        return None
    mean = float(nearest_distances(places).mean())
    expected = 0.5 * math.sqrt(area / n)
    error = CLARK_EVANS_SE / math.sqrt(n * n / area)
    if perimeter is not None:
        expected += (0.0514 + 0.0412 / math.sqrt(n)) * perimeter / n
        error = math.sqrt(0.0703 * area / n**2 + 0.037 * perimeter * math.sqrt(area / n**5))
    return Spacing(
        index=mean / expected,
        z=(mean - expected) / error,
        count=n,
        mean_distance=mean,
        expected_distance=expected,
        edge_corrected=perimeter is not None,
    )


def nearest_distances(points: NDArray[np.floating]) -> NDArray[np.float64]:
    """From each of two or more points, (n, 2), the distance to the nearest other one."""
    places = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    tree = cv2.flann_Index(
        places.astype(np.float32), {"algorithm": FLANN_KD_TREE, "leaf_max_size": 10}
    )
    found, _ = tree.knnSearch(places.astype(np.float32), 2, params={"checks": FLANN_EXACT})
    # One of the two is the point itself; which, where others lie on it, does not matter.
    itself = found[:, 0] == np.arange(len(places))
    return np.hypot(*(places[np.where(itself, found[:, 1], found[:, 0])] - places).T)
