"""Each kind of defect and who draws it.

The planes of a sheet are blue, green and red of the unlit surface in linear light; a drawer changes
them in place within a window around the defect, and returns its outline in the photo.
"""

import numpy as np

from defectlog.demo.resin import bridge, crease, lean, sanded, smears, soft
from defectlog.demo.sheet import Sheet
from defectlog.demo.spec import (
    Bridge,
    Crease,
    Defect,
    DrawnDefect,
    DrySpot,
    Lean,
    Pinholes,
    SandedPatch,
    Smears,
    SoftPatch,
    TornPly,
)
from defectlog.demo.tearing import torn_ply
from defectlog.demo.voids import dry_spot, pinholes

_DRAWERS = {
    Pinholes: pinholes,
    DrySpot: dry_spot,
    TornPly: torn_ply,
    Smears: smears,
    Bridge: bridge,
    Lean: lean,
    Crease: crease,
    SoftPatch: soft,
    SandedPatch: sanded,
}


def draw(sheet: Sheet, defect: Defect, rng: np.random.Generator) -> None:
    """Draw one defect, and note its outline if any of it lies in the picture."""
    outline = _DRAWERS[type(defect)](sheet, defect, rng)
    if defect.kind and outline:
        sheet.drawn.append(DrawnDefect(defect.kind, outline))
