"""Medians and quantiles, of many numbers without putting them in order."""

import numpy as np
from numpy.typing import NDArray

MANY = 10_000  # numbers; of fewer NumPy finds the middle as soon
# Of a number's 32 bits these do not lead: of those that share the others few are left.
TRAILING_BITS = 16


def middle_of(values: NDArray[np.floating]) -> np.floating:
    """The median of one number or more; ``np.median`` takes longer, looking for what is none."""
    half = len(values) // 2
    ranks = (half,) if len(values) % 2 else (half - 1, half)
    if values.dtype == np.float32 and len(values) >= MANY:
        return _ranked(values, ranks)[0].mean()
    return np.partition(values, ranks)[ranks[0] : half + 1].mean()


def middle_of_steps(values: NDArray[np.unsignedinteger]) -> float:
    """The median of whole numbers, by how many there are of each."""
    upto = np.bincount(values).cumsum()
    either = np.array([upto[-1] - 1, upto[-1]]) // 2
    return float(np.searchsorted(upto, either, side="right").mean())


def quantiles_of(values: NDArray[np.float32], *shares: float) -> list[np.float32]:
    """What ``np.quantile`` says of one number or more, in a third of its time if they are many."""
    last = len(values) - 1
    at = [share * last for share in shares]
    about = _ranked(values, *((int(one), min(int(one) + 1, last)) for one in at))
    return [
        low + (high - low) * np.float32(one % 1) for one, (low, high) in zip(at, about, strict=True)
    ]


def _ranked(values: NDArray[np.float32], *wanted: tuple[int, ...]) -> list[NDArray[np.float32]]:
    """Those of some ranks next to each other, from 0, in the order of their size.

    Numbers are in the order of their bits read as whole numbers, once those of the negative ones
    are turned round: how many there are of each leading half says which of them to look among.
    """
    bits = values.view(np.int32)
    leading = (bits ^ ((bits >> 31) & 0x7FFFFFFF)) >> TRAILING_BITS
    leading -= leading.min()
    upto = np.concatenate([[0], np.bincount(leading).cumsum()])

    def ranked(ranks: tuple[int, ...]) -> NDArray[np.float32]:
        first, last = np.searchsorted(upto, (ranks[0], ranks[-1]), side="right") - 1
        few = np.sort(values[(leading >= first) & (leading <= last)])
        return few[np.array(ranks) - upto[first]]

    return [ranked(ranks) for ranks in wanted]
