"""Objects of a mask as lists of pixels and runs of them, against counting them one by one."""

from itertools import groupby

import numpy as np
import pytest

from defectlog.measure.arrays import pixels
from defectlog.measure.arrays.pixels import listed, numbered, runs_of


@pytest.mark.parametrize("share", [0.0, 0.3, 0.9, 1.0])
def test_runs_are_pixels_side_by_side_and_end_with_their_row(share):
    mask = np.random.default_rng(2).random((40, 57)) < share
    lengths = [len(list(run)) for row in mask for filled, run in groupby(row) if filled]

    runs = runs_of(np.flatnonzero(mask), mask.shape[1])

    assert runs.length.tolist() == lengths
    assert runs.start.tolist() == np.cumsum([0, *lengths])[:-1].tolist()


@pytest.mark.parametrize("given", [True, False])
def test_every_pixel_of_an_object_has_its_number(given):
    mask = np.random.default_rng(6).random((80, 91)) < 0.35
    numbers = numbered(mask)

    known = listed(mask, numbers if given else None)

    assert known.count == known.label.max() == numbers.labels.max()
    assert (known.label == numbers.labels[mask]).all()
    assert (known.edge_label == numbers.labels.ravel()[known.edge]).all()


@pytest.mark.parametrize("share", [0.0, 0.2, 0.35, 0.6])
def test_objects_that_cross_from_band_to_band_stay_whole(monkeypatch, share):
    monkeypatch.setattr(pixels, "BAND_PX", 7 * 91)
    mask = np.random.default_rng(8).random((80, 91)) < share
    mask[3:60, 40] = mask[3:60, 44] = mask[50, 40:44] = True  # met twice at every line

    known, whole = listed(mask), numbered(mask)

    assert known.at.tolist() == np.flatnonzero(mask).tolist()
    together = set(zip(known.label.tolist(), whole.labels[mask].tolist(), strict=True))
    assert known.count == whole.count == len(together)
    again = listed(mask, whole)
    assert known.edge.tolist() == again.edge.tolist()
    assert known.runs.start.tolist() == again.runs.start.tolist()
    assert known.runs.length.tolist() == again.runs.length.tolist()
