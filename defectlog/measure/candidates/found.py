"""The voids that were found on a surface, before they are put into figures."""

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.arrays.look import Look
from defectlog.measure.arrays.masks import grown
from defectlog.measure.arrays.pixels import IndexArray
from defectlog.measure.candidates.creases import Creases
from defectlog.measure.cloth.weave import Vector
from defectlog.measure.outlines.judging import Turned
from defectlog.measure.outlines.shapes import Shapes


@dataclass(frozen=True, slots=True)
class Found:
    """The voids of a surface: objects of ``mask`` with their areas, in worked pixels.

    ``area``, ``kept`` (whether it was judged to be a void), ``height`` (its contrast) and
    ``unsure_px`` (the area it may be off by) are in the order of ``shapes``; ``threshold`` is the
    contrast voids were found by, in log units, and ``blur_px`` the picture's own, None where
    nothing could tell; ``turned`` is what was judged to be no void, ``struck`` where that and its
    surroundings lie, ``repeats`` those of the weave, ``doubtful_px`` the area of what may be voids
    besides, in worked pixels, ``swing`` how far the surface goes by itself, in log units of light,
    ``is_both`` whether voids of the side other than ``look`` are among them, ``at_rim_px`` the
    area of those that may be the rim of the part, ``hidden`` the share of the surface that may be
    voids like these which its cloth hides, ``pocket_height`` the contrast that pockets of resin
    between tows reach, ``near_mm`` over how much each place was compared with what lies close by,
    0 if it was not, ``fainter`` whether the weave was taken out for voids as faint as its tones,
    ``veiled`` where the flank of glare lies, if anywhere, ``creases`` those to this side,
    ``may_be`` the share of the surface that may be voids too faint to count, ``dyed`` where yarn
    lies that hides voids like these, if any, ``seam`` that which sharpening drew beside voids, as a
    share of their contrast.

    Of the first objects, and not of what was added later, ``barely`` is which only just count and
    ``soft_px`` the area of each between 35 and 65 % of the way from sound to void.
    """

    mask: BoolImage
    shapes: Shapes
    area: NDArray[np.float64]
    kept: BoolImage
    height: NDArray[np.float64]
    unsure_px: NDArray[np.float64]
    look: Look | None
    threshold: float | None
    blur_px: float | None
    turned: tuple[Turned, ...]
    struck: BoolImage
    repeats: list[Vector]
    doubtful_px: float = 0.0
    swing: float = 0.0
    barely: BoolImage = field(default_factory=lambda: np.zeros(0, dtype=bool))
    soft_px: NDArray[np.float64] = field(default_factory=lambda: np.zeros(0))
    is_both: bool = False
    at_rim_px: float = 0.0
    hidden: float = 0.0
    pocket_height: float = 0.0
    near_mm: float = 0.0
    fainter: bool = False
    veiled: BoolImage | None = None
    creases: Creases | None = None
    may_be: float = 0.0
    dyed: BoolImage | None = None
    seam: float = 0.0

    @property
    def close_by(self) -> bool:
        """Whether the voids were told by what lies close by."""
        return self.near_mm > 0

    @property
    def kept_px(self) -> float:
        """The area of what was judged to be void, in worked pixels."""
        return float(self.area[self.kept].sum())

    @property
    def kept_at(self) -> IndexArray:
        """The pixels of what was judged to be void, in the flattened picture."""
        return self.shapes.at.take(np.flatnonzero(self.kept.take(self.shapes.label)))

    def without(self, which: BoolImage, why: str) -> "Found":
        """The same with some of its voids turned down, (n,) bool, for one reason."""
        drop = self.kept & which
        if not drop.any():
            return self
        turned = Turned.of(self.shapes, drop, why)
        return replace(self, kept=self.kept & ~drop, turned=(*self.turned, turned))

    def about_kept(self, reach_px: int) -> BoolImage:
        """Where its voids lie, and so many pixels beyond on every side."""
        return grown(self.drawn(self.kept), reach_px)

    def drawn(self, which: BoolImage) -> BoolImage:
        """A mask of some of the objects alone; a void may lie where another was taken back."""
        mask = np.zeros_like(self.mask)
        mask.ravel()[self.shapes.at[which.take(self.shapes.label)]] = True
        return mask
