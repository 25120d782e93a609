"""What of a surface with glare can be inspected for voids of either look."""

from collections.abc import Iterable, Mapping

import numpy as np

from defectlog.measure.arrays.light import BoolImage, from_cells, to_cells
from defectlog.measure.arrays.look import Look
from defectlog.measure.cloth.glare import VEIL_MM, with_flanks
from defectlog.measure.cloth.likeness import Likeness
from defectlog.measure.cloth.squares import in_middles, middle_places
from defectlog.measure.cloth.surface import Surface


class Clear:
    """A surface, and as much of it as can be inspected for voids of some looks.

    What is lost is told in cells, if anything is; for all pixels only once that is asked for.
    """

    def __init__(
        self, surface: Surface, lost: Mapping[Look, BoolImage | None], cell_px: int = 1
    ) -> None:
        self.surface = surface
        self._lost = lost
        self._cell_px = cell_px
        self._told: dict[Look, Surface] = {}

    def only(self, looks: Iterable[Look]) -> "Clear":
        """The same for some of the looks."""
        clear = Clear(self.surface, {look: self._lost[look] for look in looks}, self._cell_px)
        clear._told = self._told
        return clear

    def of(self, look: Look, otherwise: Surface | None = None) -> Surface:
        """What is inspected for a look; ``otherwise`` for one that nothing was told for."""
        if look not in self._lost and otherwise is not None:
            return otherwise
        lost = self._lost[look]
        if lost is None:
            return self.surface
        if look not in self._told:
            clear = from_cells(~lost, self._cell_px, self.surface.smooth.shape, smooth=False)
            self._told[look] = self.surface.within(clear)
        return self._told[look]

    def in_middles(self, look: Look, every: int) -> BoolImage:
        """What is inspected for a look in the middles of squares of so many pixels."""
        inspected, lost = in_middles(self.surface.inspected, every), self._lost[look]
        if lost is None:
            return inspected
        cells = (
            middle_places(side, every) // self._cell_px for side in self.surface.inspected.shape
        )
        return inspected & ~lost[np.ix_(*cells)]


def clear_of_glare(surface: Surface, likes: dict[Look, Likeness]) -> Clear:
    """What can be inspected for voids of the looks that the cloth was told for.

    On the flank of glare voids show less than the cloth does: it hides them there as well. What
    is lost for the other look alone may be voids of this one, unless it lies along glare.
    """
    cell_px = next(iter(likes.values())).cell_px
    lost = {look: like.lost for look, like in likes.items()}
    if surface.glare is not None:
        either = np.logical_or.reduce(list(lost.values()))
        glare = np.pad(to_cells(surface.glare.view(np.uint8), cell_px), (0, 1))
        glare = glare[: either.shape[0], : either.shape[1]] > 0
        steps = round(VEIL_MM * surface.px_per_mm / cell_px)
        flanks = either & with_flanks(glare, either, steps=steps)
        lost = {look: own | flanks for look, own in lost.items()}
    return Clear(surface, {look: own > 0 for look, own in lost.items()}, cell_px)
