"""The maps of the cloth and the outlines on them, on carbon drawn with a known patch."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from defectlog.measure.cloth.surface import prepare
from defectlog.measure.explain_cloth import see_cloth
from tests.measure.patches.test_patches import CARBON, patched
from tests.pictures import Picture, render


def seen(picture: Picture, size: tuple[int, int], **more):
    surface = prepare(picture.grey, np.ones(picture.grey.shape, bool), picture.px_per_mm)
    return see_cloth(surface, np.zeros(picture.grey.shape, bool), size, **more)


@pytest.mark.parametrize("contrast", [-0.1, 0.1])
def test_the_outline_runs_round_the_patch_that_was_drawn_and_the_maps_show_it(contrast):
    picture = patched(contrast)
    rows, columns = picture.grey.shape
    size = (columns // 2, rows // 2)

    cloth = seen(picture, size)

    assert cloth.counted == 1 and cloth.tone.shape == cloth.swing.shape == size[::-1]
    drawn = np.zeros(size[::-1], np.uint8)
    cv2.fillPoly(drawn, [outline for outline, is_counted in cloth.outlines if is_counted], 1)
    true = cv2.resize(picture.cover, size, interpolation=cv2.INTER_AREA) > 0.5
    assert np.count_nonzero(true & (drawn > 0)) > 0.75 * np.count_nonzero(true | (drawn > 0))
    off = float(cloth.tone[true].mean()) - float(cloth.tone[~true].mean())
    assert off * -contrast > 0 and abs(off) > 10  # paler is brighter
    assert cloth.swing[true].mean() < cloth.swing[~true].mean() - 10


def test_the_voids_in_the_end_say_whether_a_patch_was_counted():
    picture = patched(-0.1)
    true = picture.cover > 0.5

    assert seen(picture, (300, 225), counted=true).counted == 1
    passed_over = seen(picture, (300, 225), counted=np.zeros_like(true))
    assert len(passed_over.outlines) == 1 and passed_over.counted == 0


def test_sound_cloth_has_an_even_map_without_outlines():
    cloth = seen(render(replace(CARBON, seed=4)), (300, 225))

    assert cloth.outlines == ()
    assert abs(float(cloth.tone.mean()) - 128) < 10
