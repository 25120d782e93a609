"""On which side of the surface's own light voids show, and how far it reaches by itself."""

import math
from typing import Literal

import numpy as np

from defectlog.measure.arrays.halves import in_two
from defectlog.measure.arrays.light import BoolImage, as_ratio
from defectlog.measure.arrays.look import Look
from defectlog.measure.arrays.quantiles import counted
from defectlog.measure.arrays.threshold import Tail, tail
from defectlog.measure.cloth.surface import Surface

SAMPLE_PX = 500_000


def side_of_voids(surface: Surface, look: Literal["auto", "dark", "bright"]) -> Look:
    """The side voids are looked for on: the one asked for, or the one they show on."""
    return side_of(tails_of(surface, look))


def side_of(sides: dict[Look, Tail]) -> Look:
    """The side voids are on if there are any; dark, where nothing speaks for either."""
    side = max(sides, key=lambda name: sides[name].kink / sides[name].limit)
    if not sides[side].has_voids and "dark" in sides:
        side = "dark"
    return side


def sample_step(surface: Surface) -> int:
    """Of so many pixels along a side one says enough about the light of all."""
    return max(1, math.isqrt(surface.smooth.size // SAMPLE_PX))


def tails_of(surface: Surface, look: str, without: BoolImage | None = None) -> dict[Look, Tail]:
    """Both sides of the surface's distribution of light, or the one asked for."""
    step = sample_step(surface)
    some = (slice(None, None, step), slice(None, None, step))
    sample = surface.smooth[some]
    if not surface.is_whole or without is not None:
        within = surface.inspected[some]
        sample = sample[within if without is None else within & ~without[some]]
    # Of some hundred thousand pixels there are some thousand values.
    counts = counted(sample)
    values = np.flatnonzero(counts)
    light = np.log(np.maximum(as_ratio(values.astype(np.uint16)), np.float32(1e-3)))

    def judged(side: Look) -> Tail:
        towards = -light if (side == "dark") != surface.is_inverse else light
        return tail(
            towards,
            least_sd=surface.grey_step,
            dark=side == "dark",
            bare=surface.expected is not None,
            glared=surface.is_glared,
            astray=surface.astray,
            often=counts[values],
        )

    if look != "auto":
        return {look: judged(look)}
    names: tuple[Look, Look] = ("dark", "bright")
    return dict(zip(names, in_two(judged, *names), strict=True))
