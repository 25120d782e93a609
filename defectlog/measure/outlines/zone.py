"""Every object with its surroundings: whose each pixel is, and the surface it is judged by."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.halves import Done, both, by_halves, by_pieces, by_turns
from defectlog.measure.arrays.light import BoolImage, FloatImage, RatioImage, as_ratio, inverse_of
from defectlog.measure.arrays.masks import but_not
from defectlog.measure.arrays.pixels import (
    IndexArray,
    Listed,
    Runs,
    add_up,
    listed,
    places_at_half,
)
from defectlog.measure.outlines.growing import with_beyond
from defectlog.measure.outlines.sound_light import half_light, leaning, sound_light

# Of so many pixels the sums of objects are worked out at a time: of fewer, threads wait for each
# other more than they work.
PART_PX = 260_000
LEAST_INVERSE = np.float32(1e-3)  # of light, that is told from none


@dataclass(frozen=True, slots=True)
class Part:
    """Some pixels of a zone: of the ``objects`` themselves, or all of them beyond these.

    ``at`` is which of the list, ``label`` the object of each; of themselves those of an object
    follow each other from ``start`` on. NumPy adds up what is in file a dozen times as fast, and
    lets go of Python's lock while it does.
    """

    at: slice
    label: IndexArray
    objects: slice | None
    start: IndexArray | None

    def of_each(self, values: NDArray[np.number]) -> NDArray[np.number]:
        """For each pixel the value of its object."""
        if self.objects is None:
            return values.take(self.label)
        return np.repeat(values[self.objects], np.diff(self.start, append=len(self.label)))

    def count(self, sums: IndexArray) -> None:
        """Count the pixels of each object, in place."""
        if self.objects is None:
            sums += np.bincount(self.label, minlength=len(sums))
        else:
            sums[self.objects] += np.diff(self.start, append=len(self.label))

    def add(self, sums: NDArray[np.number], values: NDArray[np.number]) -> None:
        """Add values of pixels to the sums of their objects, in place."""
        if self.objects is None:
            sums += np.bincount(self.label, values, len(sums)).astype(sums.dtype, copy=False)
        else:
            sums[self.objects] += np.add.reduceat(values, self.start, dtype=sums.dtype)

    def add_some(
        self, sums: NDArray[np.number], which: BoolImage, values: NDArray[np.number] | None = None
    ) -> None:
        """Add values of some pixels to the sums of their objects, in place, or count them.

        Of what lies beyond objects these are few.
        """
        if self.objects is None:
            few = np.flatnonzero(which)
            add_up(sums, self.label.take(few), 1 if values is None else values.take(few))
        else:
            self.add(sums, which.view(np.int8) if values is None else values * which)


@dataclass(frozen=True, slots=True)
class Zone:
    """The pixels of every object and a few beyond, as flat lists.

    ``at`` indexes the flattened picture, ``label`` says which object (0 … n - 1) a pixel is
    nearest to. First there are the objects themselves, one after the other, each from ``begin``
    (n + 1) on, and in ``runs``; those of the slices ``rim`` are the furthest from them. ``sides``
    is how many sides of pixels each object shows. ``contrast`` is the share of light missing (dark
    voids) or added (bright ones), ``around`` that of the sound surface about the pixel. ``shape``
    is that of the picture, ``sound`` the mean light of the sound surface at half the size, 0 where
    too little is near.
    """

    count: int
    at: IndexArray
    label: IndexArray
    begin: IndexArray
    runs: Runs
    rim: tuple[slice, ...]
    sides: IndexArray
    contrast: NDArray[np.float32]
    around: NDArray[np.float32]
    shape: tuple[int, int]
    sound: RatioImage

    @property
    def own(self) -> int:
        """How many pixels are of the objects themselves."""
        return int(self.begin[-1])

    def by_parts(self, task: Callable[[list["Part"]], Done]) -> list[Done]:
        """Do a task for every other part of the pixels, and for those between at the same time."""
        own, piece = self.own, PART_PX
        bounds = *range(0, own, piece), *range(own, len(self.at), piece), len(self.at)
        return by_turns(task, [self._part(slice(*ends)) for ends in pairwise(bounds)])

    def _part(self, at: slice) -> "Part":
        if at.start >= self.own:
            return Part(at, self.label[at], None, None)
        first = np.searchsorted(self.begin, at.start, side="right") - 1
        last = np.searchsorted(self.begin, at.stop)
        start = np.maximum(self.begin[first:last] - at.start, 0)
        return Part(at, self.label[at], slice(first, last), start)

    def drawn(self, which: BoolImage) -> BoolImage:
        """A mask of some of the objects themselves."""
        own = slice(0, self.own)
        mask = np.zeros(self.shape, dtype=bool)
        mask.ravel()[self.at[own][which[self.label[own]]]] = True
        return mask


def zone_of(
    objects: BoolImage,
    ratio: RatioImage | FloatImage,
    inspected: BoolImage,
    *,
    sign: float,
    known: Listed | None = None,
    sound: RatioImage | None = None,
    lean: float = 0.0,
    cloth: RatioImage | None = None,
    inverse: bool = False,
) -> Zone:
    """Gather the surroundings of every connected object.

    Parameters
    ----------
    objects : (M, N) bool, within what is inspected
    ratio : (M, N) light relative to the even light of the surface
    inspected : (M, N) bool
    sign : 1.0 for dark voids, -1.0 for bright ones
    known : the objects' pixels, if they have been listed
    sound : of a zone of much the same objects, if there was one
    lean : from the mean of the surface about a pixel (0) towards its darkest part (1)
    cloth : the cloth's own light, at half the size, if it is known: the surface about a pixel is
        then as it would be there
    inverse : whether objects are told by the inverse of their light, as ``cloth`` is
    """

    def ground() -> tuple[BoolImage, RatioImage | None]:
        free = but_not(inspected, objects)
        return free, half_light(ratio, inverse=inverse) if sound is None else None

    if known is None:
        known, (free, half) = both(lambda: listed(objects), ground)
    else:
        free, half = ground()
    at, label, rim = with_beyond(known, free)
    if half is not None:
        sound = sound_light(free, half, cloth=cloth)
        if cloth is None and lean:
            sound = leaning(sound, lean)
    del free, half  # memory that the light of all will want
    zone = Zone(
        count=known.count,
        at=at,
        label=label,
        begin=np.append(0, known.area.cumsum()),
        runs=replace(known.runs, own=known.runs.own - 1),
        rim=rim,
        sides=known.sides,
        contrast=np.empty(len(at), np.float32),
        around=np.empty(len(at), np.float32),
        shape=objects.shape,
        sound=sound,
    )
    _tell_contrasts(zone, ratio, sign, inverse)
    return zone


def zone_by_light(zone: Zone) -> Zone:
    """The zone of bright voids by their light, of one told by its inverse."""
    contrast, around = np.empty_like(zone.contrast), np.empty_like(zone.around)

    def turned(parts: list[slice]) -> None:
        for part in parts:
            for inverse, light in ((zone.contrast, contrast), (zone.around, around)):
                left = np.maximum(1 - inverse[part], LEAST_INVERSE)
                np.subtract(np.reciprocal(left, out=left), 1, out=light[part])

    by_pieces(turned, len(zone.at))
    return replace(zone, contrast=contrast, around=around)


def _tell_contrasts(zone: Zone, ratio: RatioImage | FloatImage, sign: float, inverse: bool) -> None:
    """Write down the contrast of each pixel of a zone, and of the surface about it."""
    contrast, around, columns = zone.contrast, zone.around, zone.shape[1]

    def look_up(parts: list[slice]) -> None:
        for part in parts:
            light = ratio.ravel().take(zone.at[part])
            contrast[part] = as_ratio(inverse_of(light) if inverse else light)
            _to_contrast(sign, contrast[part])
            around[part] = as_ratio(zone.sound.ravel().take(places_at_half(zone.at[part], columns)))

    by_pieces(look_up, len(zone.at))
    _fill_from_about(around, zone.label, zone.own, zone.count)
    by_halves(lambda part: _to_contrast(sign, around[part]), len(zone.at))


def _to_contrast(sign: float, light: NDArray[np.float32]) -> None:
    """Turn light into the share of it that is missing, or added, in place."""
    np.subtract(np.float32(1), light, out=light)
    if sign < 0:
        np.negative(light, out=light)


def _fill_from_about(around: NDArray[np.float32], label: IndexArray, own: int, count: int) -> None:
    """Give pixels with no surface near (0) the mean about their object, in place.

    The first ``own`` pixels are the objects themselves, and what follows lies about them.
    """
    few = np.zeros(count, dtype=bool)  # objects that have such pixels

    def lacking(parts: list[slice]) -> list[tuple[IndexArray, IndexArray]]:
        found = []
        for part in parts:
            places = np.flatnonzero(around[part] == 0)
            places += part.start
            own = label.take(places)
            few[own] = True
            found.append((places, own))
        return found

    without = sum(by_pieces(lacking, len(label)), [])
    if not few.any():
        return

    beyond, owner = around[own:], label[own:]

    def sums(parts: list[slice]) -> NDArray[np.float64]:
        counted = np.zeros((2, count))
        for part in parts:
            pixels = np.flatnonzero(few.take(owner[part]) & (beyond[part] > 0))
            label = owner[part].take(pixels)
            counted[0] += np.bincount(label, minlength=count)
            counted[1] += np.bincount(label, beyond[part].take(pixels), count)
        return counted

    often, total = sum(by_pieces(sums, len(owner)))
    edge = total / np.where(often, often, np.nan)
    # An object hemmed in by others has no surface of its own; that is 1 by definition.
    edge = np.where(np.isfinite(edge), edge, 1.0).astype(np.float32)
    for places, own in without:
        around[places] = edge.take(own)
