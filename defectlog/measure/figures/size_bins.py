"""How many voids there are of each size, in bins each as much wider than the one before it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

# The preferred numbers of series R 5 (ISO 3), five to each power of ten: sizes of voids run over
# two of these, and bins of even width would put all pinholes into one.
STEPS = (1.0, 1.6, 2.5, 4.0, 6.3)


@dataclass(frozen=True, slots=True)
class SizeBin:
    """How many sizes are at least ``low`` and less than ``high``."""

    low: float
    high: float
    count: int


def size_bins(sizes: Sequence[float]) -> tuple[SizeBin, ...]:
    """Count sizes by the preferred numbers between which they lie.

    Parameters
    ----------
    sizes : diameters above 0, in any unit of length

    Returns
    -------
    tuple of SizeBin
        From the bin of the smallest to that of the largest, with empty ones between.
    """
    places = [_place(size) for size in sizes]
    if not places:
        return ()
    return tuple(
        SizeBin(_edge(place), _edge(place + 1), places.count(place))
        for place in range(min(places), max(places) + 1)
    )


def _edge(place: int) -> float:
    tens, step = divmod(place, len(STEPS))
    return float(f"{STEPS[step]}e{tens}")  # to the bit what is printed, so that 0.16 is 0.16


def _place(size: float) -> int:
    """The number of the bin a size is in, counted from the one that starts at 1."""
    if not size > 0:
        raise ValueError(f"a size is above 0, not {size}")
    place = len(STEPS) * math.floor(math.log10(size))
    while _edge(place) > size:
        place -= 1
    while _edge(place + 1) <= size:
        place += 1
    return place
