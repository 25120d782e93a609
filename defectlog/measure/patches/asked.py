"""What is asked of an outline on a map of cloth before it is taken for that of a patch."""

from collections.abc import Callable
from dataclasses import dataclass

from defectlog.measure.cloth.cloth_maps import ClothMap
from defectlog.measure.patches.elsewhere import Elsewhere
from defectlog.measure.patches.patch_outlines import SECTORS, Candidate


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked of a patch: see ``Candidate`` and ``Elsewhere`` for the words.

    ``tows`` is the share of the step that single tows can make up, taken off it.
    """

    step: float
    abrupt: float
    all_round: float
    highest: float
    deviations: float = 0.0
    unusual: float = 0.0
    tows: float = 0.0
    thick_mm: float = 3.0
    sectors: int = SECTORS - 2


# Chosen on rendered surfaces. On sound ones a step of 0.12 in log light and more towards what is
# paler is no more than 1.6 times any other there, but beside glare and where it is soft. Shadows
# are dark and dry cloth is pale: of a darker patch more is asked, and that it is dark itself, not
# only beside something pale. Swing is lost by a third and more in dry cloth, and by less, or
# softly, where light is mirrored.
DARKER = 0.03
# A step of a third of the light, sharp and all round, is no tow's, no shadow's and no fold's. Where
# several such patches lie about, each shows its step elsewhere too: at another of them.
CLEAR = Asked(0.35, 0.9, 0.6, 1.1, unusual=15.0, thick_mm=2.6)
SURE = (
    Asked(0.175, 0.6, 0.25, 2.0),
    Asked(0.165, 0.6, 0.35, 1.5, deviations=3.8, tows=1.0),
    CLEAR,
)
# Weak, but off as a whole as well.
AS_A_WHOLE = Asked(0.13, 0.5, 0.25, 1.8, deviations=4.0, unusual=6.0)
SURE_PALE = (
    *SURE,
    AS_A_WHOLE,
    # Under light that is mirrored single tows step as far: there the whole of a patch has to be
    # far paler than the cloth anywhere, and than all that light makes of it.
    Asked(0.18, 0.55, 0.2, 0.95, deviations=8.0, unusual=3.0, thick_mm=2.4),
    # Where tows differ so much that an outline shows a step wherever it is laid, a clear one
    # beyond all that they can make up, if the whole is as far off.
    Asked(CLEAR.step, 0.9, 0.6, 1.0, deviations=8.0, tows=1.0),
)
LIKELY = (
    Asked(0.165, 0.55, 0.25, 1.8),
    Asked(0.15, 0.5, 0.3, 2.3),
    Asked(0.15, 0.55, 0.25, 1.3, deviations=3.5, tows=1.0),
    Asked(0.2, 0.8, 0.1, 2.3),
)
# Ragged and weak, but off as a whole more than anything else there.
LIKELY_PALE = (*LIKELY, Asked(0.11, 0.45, 0.1, 1.3, deviations=4.0, unusual=4.0))
SURE_SWING = (
    Asked(0.35, 0.62, 0.4, 1.8, deviations=4.5, unusual=7.0, thick_mm=1.8),
    Asked(0.45, 0.55, 0.35, 1.5, deviations=8.0, thick_mm=1.8),
)
LIKELY_SWING = (Asked(0.3, 0.62, 0.35, 1.5, deviations=4.0, unusual=6.0, thick_mm=1.8),)
# A lobe of a patch stands beside it and is no larger: of that less is asked. Of a small one
# few twelfths hold cells enough.
LOBE = (Asked(0.165, 0.55, 0.25, 1.2, unusual=4.0, thick_mm=1.8, sectors=SECTORS // 2),)


def is_clear(found: Candidate) -> bool:
    """Whether an outline is that of a patch whatever lies beside it."""
    return (
        found.step >= CLEAR.step
        and found.abrupt >= CLEAR.abrupt
        and found.all_round >= CLEAR.all_round
    )


def is_met(
    found: Candidate,
    asked: tuple[Asked, ...],
    chart: ClothMap,
    there: Callable[[], Elsewhere],
    *,
    more: float = 0.0,
) -> bool:
    """Whether any of what is asked of a patch is met.

    Parameters
    ----------
    found : an outline
    asked : in one way or another
    chart : the map it is of
    there : what its outline shows elsewhere
    more : that the step of a darker patch, and its height, have to be as well; 0 of a paler one
    """
    step = found.step if more == 0 else min(found.step, found.height) - more
    met = [
        one
        for one in asked
        if step >= one.step + one.tows * chart.tows_step
        and found.abrupt >= one.abrupt
        and found.all_round >= one.all_round
        and found.deviations >= one.deviations
        and found.thick_mm >= one.thick_mm
        and found.sectors >= one.sectors
    ]
    if not met:
        return False
    # Last, for it takes the longest.
    shown = there()
    return any(shown.highest >= one.highest and shown.deviations >= one.unusual for one in met)
