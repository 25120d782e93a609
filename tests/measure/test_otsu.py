"""Otsu's threshold and the objects below it, on pictures that come with scikit-image.

It is what measuring is held against, in the README and in the benchmarks, which take OpenCV's.
"""

import cv2
import numpy as np
import pytest
from skimage import data
from skimage.filters import threshold_otsu

from defectlog.measure.outlines.shapes import shapes_of

# Thresholds as scikit-image 0.22 and 0.26 give them (its own tests ask for 102 of the camera and
# 107 of the coins), pixels above them, and objects of those at or below: joined by corners or not,
# counted with scikit-image's ``label``. Otsu, IEEE Trans. SMC 9 (1979) 62-66.
PICTURES = {
    "camera": (102, 177984, 179, 212),
    "coins": (107, 45117, None, None),
    "moon": (87, 254144, 85, 98),
    "page": (157, 46818, 230, 289),
    "text": (109, 66801, 143, 206),
}


@pytest.mark.parametrize("name", PICTURES)
def test_otsus_threshold_is_that_of_scikit_image_and_as_printed(name):
    picture = getattr(data, name)()
    at, above = PICTURES[name][:2]

    assert threshold_otsu(picture) == at
    assert cv2.threshold(picture, 0, 255, cv2.THRESH_OTSU)[0] == at
    assert np.count_nonzero(picture > at) == above


@pytest.mark.parametrize("name", [name for name in PICTURES if name != "coins"])
def test_what_lies_below_it_is_so_many_objects(name):
    at, above, joined, apart = PICTURES[name]
    below = getattr(data, name)() <= at

    found = shapes_of(below)
    assert len(found.area) == joined
    assert found.area.sum() == below.size - above
    assert len(shapes_of(below, corners_join=False).area) == apart
