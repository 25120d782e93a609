"""How far objects reach into their surroundings, against distances told one by one."""

import cv2
import numpy as np
import pytest

from defectlog.measure.arrays.light import ONE
from defectlog.measure.outlines.zone import zone_by_light, zone_of

# Crosses and squares in turn: so far across, so many rows up or down.
REACH = {0: 3, 1: 3, 2: 2, 3: 1}


def zone(mask: np.ndarray, free: np.ndarray | None = None):
    inspected = np.ones_like(mask) if free is None else free | mask
    return zone_of(mask, np.ones(mask.shape, np.float32), inspected, sign=1.0)


def about(shape: tuple[int, int], pixels: np.ndarray) -> np.ndarray:
    y, x = np.indices(shape)
    reached = np.zeros(shape, bool)
    for row, column in pixels:
        for down, across in REACH.items():
            reached |= (np.abs(y - row) == down) & (np.abs(x - column) <= across)
    return reached


@pytest.mark.parametrize("share", [0.001, 0.01, 0.1])
def test_objects_reach_an_octagon_about_each_of_their_pixels(share):
    mask = np.random.default_rng(3).random((120, 160)) < share
    mask[:5] = mask[-5:] = mask[:, :5] = mask[:, -5:] = False

    found = zone(mask)

    assert len(set(found.at.tolist())) == len(found.at)
    assert sorted(found.at) == np.flatnonzero(about(mask.shape, np.argwhere(mask))).tolist()
    assert sorted(found.at[: found.own]) == np.flatnonzero(mask).tolist()


def test_of_two_objects_the_nearer_has_a_pixel():
    mask = np.zeros((60, 60), bool)
    mask[20:40, 20:30] = mask[20:40, 34:40] = True  # four columns lie between

    found = zone(mask)

    owner = np.full(mask.shape, -1)
    owner.ravel()[found.at] = found.label
    assert (owner[22:38, 18:32] == owner[30, 25]).all()
    assert (owner[22:38, 32:42] == owner[30, 36]).all()
    assert owner[30, 25] != owner[30, 36]


def test_what_is_not_inspected_is_reached_by_nobody_nor_stepped_over():
    mask, free = np.zeros((40, 40), bool), np.ones((40, 40), bool)
    mask[10:30, 10:20] = True
    free[:, 21] = False

    found = zone(mask, free)

    assert (found.at % 40 < 21).all()
    assert 20 in found.at % 40


def test_a_line_along_the_side_of_a_picture_does_not_grow():
    for side in (np.s_[10:30, 0], np.s_[10:30, -1], np.s_[0, 10:30], np.s_[-1, 10:30]):
        mask = np.zeros((40, 40), bool)
        mask[side] = True

        assert len(zone(mask).at) == 20


def test_the_inverse_turned_back_is_the_light_of_bright_objects():
    rng = np.random.default_rng(5)
    light = rng.normal(1.0, 0.02, (60, 80)).astype(np.float32)
    light[20:30, 30:42] *= 2.5
    ratio = np.rint(ONE * light).astype(np.uint16)
    objects, inspected = ratio > 2 * ONE, np.ones(ratio.shape, bool)

    by_light = zone_of(objects, ratio, inspected, sign=-1.0)
    turned = zone_by_light(zone_of(objects, ratio, inspected, sign=1.0, inverse=True))

    assert np.array_equal(turned.at, by_light.at)
    assert turned.contrast == pytest.approx(by_light.contrast, abs=0.003)  # steps of the inverse
    # The mean of inverses is less by the square of the spread.
    assert turned.around == pytest.approx(by_light.around, abs=0.002)


@pytest.mark.parametrize("piece", [37, 500, 10**6])
def test_sums_over_parts_of_a_zone_are_numpys_own(piece, monkeypatch):
    # Parts begin and end within objects, and some hold only what lies beyond these.
    monkeypatch.setattr("defectlog.measure.outlines.zone.PART_PX", piece)
    rng = np.random.default_rng(8)
    mask = cv2.blur(rng.random((90, 120), np.float32), (5, 5)) > 0.6
    found = zone(mask)
    values = rng.random(len(found.at), np.float32)
    chosen = values > 0.5

    def sums(parts):
        counts, picked = np.zeros((2, found.count), np.int64)
        total, of_some = np.zeros((2, found.count))
        for part in parts:
            part.count(counts)
            part.add(total, values[part.at])
            part.add_some(picked, chosen[part.at])
            part.add_some(of_some, chosen[part.at], values[part.at])
            assert (part.of_each(values[: found.count]) == values[found.label[part.at]]).all()
        return np.stack([counts, picked, total, of_some])

    counts, picked, total, of_some = sum(found.by_parts(sums))

    assert (np.diff(found.begin) == np.bincount(found.label[: found.own])).all()
    assert (counts == np.bincount(found.label)).all()
    assert (picked == np.bincount(found.label, chosen)).all()
    assert total == pytest.approx(np.bincount(found.label, values))
    assert of_some == pytest.approx(np.bincount(found.label, values * chosen))
