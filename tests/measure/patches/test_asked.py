"""What is asked of the outline of a patch."""

from dataclasses import replace

import numpy as np
import pytest

from defectlog.measure.cloth.cloth_maps import ClothMap
from defectlog.measure.patches.asked import SURE_PALE, is_met
from defectlog.measure.patches.elsewhere import Elsewhere
from defectlog.measure.patches.patch_outlines import Candidate

CELLS = np.ones((8, 8), bool)
# Paler by a factor of 3.7, sharp and all round, on cloth whose tows make up steps of 2.4 times.
PALE = Candidate(
    where=(slice(0, 8), slice(0, 8)),
    cells=CELLS,
    rims=(CELLS, CELLS),
    height=1.1,
    step=1.3,
    round=0.75,
    sectors=11,
    hidden=0.0,
    thick_mm=4.0,
    filled=0.8,
    slender=1.2,
    deviations=9.0,
)
TONE = ClothMap(*(np.zeros((8, 8), np.float32),) * 3, spread=0.07, tows_step=0.86)
# Laid elsewhere, outlines show steps of half of it all over the surface.
SHOWN = Elsewhere(deviations=2.7, highest=1.05)


def is_patch(found: Candidate = PALE, tone: ClothMap = TONE, shown: Elsewhere = SHOWN) -> bool:
    return is_met(found, SURE_PALE, tone, lambda: shown)


def test_a_clear_step_beyond_all_that_tows_make_up_is_that_of_a_patch():
    assert is_patch()


@pytest.mark.parametrize(
    "doubt",
    [
        {"found": replace(PALE, deviations=6.0)},
        {"found": replace(PALE, step=0.8)},  # fades out
        {"tone": replace(TONE, tows_step=1.0)},
        {"shown": replace(SHOWN, highest=0.9)},
    ],
)
def test_what_tows_make_up_or_shows_elsewhere_is_none(doubt):
    assert not is_patch(**doubt)
