"""Masks worked out by rows, against OpenCV's and NumPy's of the whole picture."""

import cv2
import numpy as np
import pytest

from defectlog.measure.arrays.masks import ROWS, but_not, grown

SHAPE = (2 * ROWS + 70, 90)


def speckled(share: float, seed: int = 1) -> np.ndarray:
    return np.random.default_rng(seed).random(SHAPE) < share


@pytest.mark.parametrize("reach", [1, 3, ROWS + 5])
def test_a_mask_grows_over_the_rows_between_its_parts(reach):
    mask = speckled(0.001)
    mask[ROWS] = True

    square = np.ones((2 * reach + 1,) * 2, np.uint8)
    assert (grown(mask, reach) == (cv2.dilate(mask.view(np.uint8), square) > 0)).all()


def test_what_is_in_one_mask_but_not_in_another():
    mask, other = speckled(0.5), speckled(0.5, seed=2)
    assert (but_not(mask, other) == (mask & ~other)).all()
