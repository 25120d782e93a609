"""Medians and quantiles, of many numbers without putting them in order."""

import cv2
import numpy as np
from numpy.typing import NDArray

MANY = 10_000  # numbers; of fewer NumPy finds the middle as soon
# Of more a sample is put in order: so many at least, and one of so many.
SAMPLE, ONE_OF = 2048, 128
# A number of some rank is further off in the sample than so many times the root of how many are in
# it once in a million times; its deviation is half of that root, and less near either end.
SURELY = 2.5
MOST_COUNTED = 2**24  # OpenCV counts in float32


def middle_of(values: NDArray[np.floating]) -> np.floating:
    """The median of one number or more; ``np.median`` takes longer, looking for what is none."""
    half = len(values) // 2
    ranks = (half,) if len(values) % 2 else (half - 1, half)
    if values.dtype == np.float32 and len(values) >= MANY:
        return _ranked(values, ranks)[0].mean()
    return np.partition(values, ranks)[ranks[0] : half + 1].mean()


def middle_of_steps(values: NDArray[np.unsignedinteger]) -> float:
    """The median of whole numbers of 8 or 16 bits, by how many there are of each."""
    upto = counted(values).cumsum()
    either = np.array([upto[-1] - 1, upto[-1]]) // 2
    return float(np.searchsorted(upto, either, side="right").mean())


def counted(values: NDArray[np.unsignedinteger]) -> NDArray[np.int64]:
    """How many of some whole numbers of 8 or 16 bits, (n,) or (M, N), are 0, 1, 2 and so on."""
    if not MANY <= values.size < MOST_COUNTED:
        return np.bincount(values.ravel())
    end = 2 ** (8 * values.itemsize)
    # OpenCV takes half the time that NumPy does, of a list in one row.
    rows = np.ascontiguousarray(np.atleast_2d(values))
    often = cv2.calcHist([rows], [0], None, [end], [0, end])
    return often.ravel().astype(np.int64)


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

    A sample says between which numbers they are to be looked for. Where it misleads, among all.
    """
    n = len(values)
    if n < MANY:
        return [np.partition(values, ranks)[list(ranks)] for ranks in wanted]
    # One of an odd number of them: rows of a picture are even.
    sample = np.sort(values[:: n // max(SAMPLE, n // ONE_OF) | 1])
    share, off = len(sample) / n, SURELY * len(sample) ** 0.5
    sample = np.concatenate([[-np.inf], sample, [np.inf]], dtype=np.float32)

    def ranked(ranks: tuple[int, ...]) -> NDArray[np.float32]:
        first, last = ranks[0], ranks[-1]
        within = values >= sample[max(int(first * share - off), 0)]
        before = n - np.count_nonzero(within)
        within &= values <= sample[min(int(last * share + off) + 2, len(sample) - 1)]
        few = values.take(np.flatnonzero(within))
        if not before <= first <= last < before + len(few):
            few, before = values, 0
        # Up to one rank NumPy parts numbers far sooner than about two.
        parted = np.partition(few, last - before)
        return np.array([parted[: rank - before + 1].max() for rank in ranks])

    return [ranked(ranks) for ranks in wanted]
