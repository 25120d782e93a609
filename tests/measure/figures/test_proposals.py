"""What could be marked, against masks whose shapes were drawn."""

from itertools import pairwise

import cv2
import numpy as np
import pytest

from defectlog.measure.figures.proposals import MOST_CORNERS, propose
from defectlog.measure.lengths.drawn_outline import crosses_itself, has_area

SIZE = (900, 1200)
PX_PER_MM = 10.0


def mask(*draw) -> np.ndarray:
    picture = np.zeros(SIZE, np.uint8)
    for one in draw:
        one(picture)
    return picture > 0


def holes(places, radius=4):
    return lambda p: [cv2.circle(p, (int(x), int(y)), radius, 1, -1) for x, y in places]


def cluster(x: int, y: int, count: int, seed: int = 1):
    at = np.random.default_rng(seed).uniform(-60, 60, (count, 2)) + (x, y)
    return [tuple(place) for place in at]


def inside(proposal, places) -> list[bool]:
    outline = np.array(proposal.points, np.float32)
    return [cv2.pointPolygonTest(outline, place, False) >= 0 for place in places]


def test_pinholes_near_each_other_become_one_outline_round_them_all():
    here, there = cluster(200, 200, 30), cluster(900, 650, 20, seed=2)
    found = propose(mask(holes(here), holes(there)), px_per_mm=PX_PER_MM)

    assert [one.what for one in found] == ["pinholes", "pinholes"]
    assert all(inside(found[0], here)) and not any(inside(found[0], there))
    assert all(inside(found[1], there)) and not any(inside(found[1], here))


def beyond(points, within) -> float:
    """How far an outline or line reaches beyond a surface, in pixels."""
    off = cv2.distanceTransform((~within).astype(np.uint8), cv2.DIST_L2, 5)
    ends = np.array([*points, points[0]])
    run = np.concatenate([np.linspace(a, b, 200) for a, b in pairwise(ends)])
    column, row = np.minimum(run - 1e-6, (SIZE[1] - 1, SIZE[0] - 1)).astype(int).T
    return float(off[row, column].max())


def test_nothing_proposed_reaches_beyond_the_surface_that_was_inspected():
    # Tilted, and dented between two groups of pinholes, as a maker would draw it.
    region = np.array([[80, 60], [560, 100], [600, 300], [640, 90], [1100, 70], [1080, 800],
                       [90, 820]])  # fmt: skip
    within = mask(lambda p: cv2.fillPoly(p, [region], 1))
    row_of = [(x, y) for x in range(100, 1080, 14) for y in range(150, 190, 14)]
    drawn = within & mask(
        holes(row_of, 3),
        lambda p: cv2.ellipse(p, (95, 600), (70, 90), 0, 0, 360, 1, -1),
        lambda p: cv2.line(p, (300, 500), (1150, 560), 1, 5),
    )
    free = propose(drawn, px_per_mm=PX_PER_MM)
    assert max(beyond(one.points, within) for one in free) > 4

    found = propose(drawn, px_per_mm=PX_PER_MM, within=within)

    assert [one.what for one in found] == [one.what for one in free]
    assert all(beyond(one.points, within) <= 1.5 for one in found)
    for one in found:
        if one.shape == "outline":
            assert has_area(one.points) and not crosses_itself(one.points)
            assert all(inside(one, one.centres))


def test_two_pinholes_are_no_reason_to_mark():
    assert propose(mask(holes([(100, 100), (130, 120)])), px_per_mm=PX_PER_MM) == ()


def test_a_few_strays_beside_hundreds_are_told_by_the_count_alone():
    many = [(x, y) for x in range(100, 500, 20) for y in range(100, 500, 20)]
    found = propose(mask(holes(many), holes(cluster(1000, 700, 6))), px_per_mm=PX_PER_MM)
    assert [one.count for one in found] == [400]


def test_an_empty_mask_proposes_nothing():
    assert propose(np.zeros(SIZE, bool), px_per_mm=PX_PER_MM) == ()


def test_a_dry_patch_keeps_its_outline_within_a_few_corners():
    drawn = mask(lambda p: cv2.ellipse(p, (600, 400), (160, 90), 25, 0, 360, 1, -1))
    (patch,) = propose(drawn, px_per_mm=PX_PER_MM)

    assert patch.what == "dry patch"
    assert 3 <= len(patch.points) <= MOST_CORNERS
    corners = np.array(patch.points, np.float32)
    assert cv2.contourArea(corners) == pytest.approx(drawn.sum(), rel=0.04)
    assert has_area(patch.points) and not crosses_itself(patch.points)


def test_a_patch_at_the_edge_stays_inside_the_picture():
    drawn = mask(lambda p: cv2.rectangle(p, (1100, 0), (1199, 120), 1, -1))
    (patch,) = propose(drawn, px_per_mm=PX_PER_MM)
    x, y = np.array(patch.points).T
    assert (x.min(), x.max(), y.min(), y.max()) == pytest.approx((1100, 1200, 0, 121), abs=0.6)


@pytest.mark.parametrize(("start", "end"), [((100, 300), (500, 300)), ((200, 700), (500, 300))])
def test_a_line_runs_from_end_to_end(start, end):
    (line,) = propose(mask(lambda p: cv2.line(p, start, end, 1, 5)), px_per_mm=PX_PER_MM)
    assert (line.what, line.shape) == ("line", "line")
    assert sorted(line.points) == [
        (pytest.approx(x, abs=6), pytest.approx(y, abs=6)) for x, y in sorted((start, end))
    ]


def test_without_a_scale_the_picture_tells_patch_from_pinhole():
    drawn = mask(
        holes(cluster(300, 300, 12)),
        lambda p: cv2.ellipse(p, (800, 600), (90, 60), 0, 0, 360, 1, -1),
    )
    assert [one.what for one in propose(drawn, px_per_mm=None)] == ["dry patch", "pinholes"]


def test_hundreds_of_patches_are_not_all_proposed():
    drawn = mask(holes([(x, y) for x in range(60, 1150, 90) for y in range(60, 880, 90)], 25))
    assert len(propose(drawn, px_per_mm=PX_PER_MM)) == 6
