"""The dot sheet's geometry: shares by hand sum, nothing touching, the same every time."""

import math
from itertools import combinations

import numpy as np
import pytest

from defectlog.measure.dot_sheet import (
    BORDER_MM,
    DIAMETERS_MM,
    DOT_PAPERS,
    FIELD_MM,
    FRACTIONS,
    GAP_MM,
    Disc,
    DotField,
    dot_sheet,
    nearest_disc,
)
from defectlog.measure.lengths.card import CARD_LAYOUTS


@pytest.mark.parametrize("paper", DOT_PAPERS)
def test_the_discs_cover_the_share_that_is_asked_of_each_field(paper):
    for field, asked in zip(dot_sheet(paper).fields, FRACTIONS, strict=True):
        dark = sum(math.pi * (disc.d_mm / 2) ** 2 for disc in field.discs)

        assert field.printed_fraction == pytest.approx(dark / (80 * 58))
        # Half of the smallest disc, 0.0157 mm², is 0.0003 % of a field of 4640 mm².
        assert field.printed_fraction == pytest.approx(asked, abs=4e-6)


def test_a_field_of_one_disc_has_the_share_of_that_disc():
    # 2 mm across: pi mm² of 80 x 58 = 4640 mm². With 0.5 mm more all round it is 3 mm across.
    field = DotField("X", 0, 0, (Disc(40, 29, 2.0),))

    assert field.printed_fraction == pytest.approx(math.pi / 4640)
    assert field.swollen_fraction(0.5) == pytest.approx(2.25 * math.pi / 4640)


@pytest.mark.parametrize("paper", DOT_PAPERS)
def test_no_disc_touches_another_or_the_edge_of_its_field(paper):
    for field in dot_sheet(paper).fields[1:]:
        x, y, d = np.array([(c.x_mm, c.y_mm, c.d_mm) for c in field.discs]).T
        assert set(d) == set(DIAMETERS_MM)
        apart = np.hypot(x[:, None] - x, y[:, None] - y) - (d[:, None] + d) / 2
        np.fill_diagonal(apart, np.inf)
        assert apart.min() >= GAP_MM - 1e-9
        for place, start, size in ((x, field.x_mm, FIELD_MM[0]), (y, field.y_mm, FIELD_MM[1])):
            assert (place - d / 2 - start).min() >= BORDER_MM - 0.01
            assert (start + size - place - d / 2).min() >= BORDER_MM - 0.01


@pytest.mark.parametrize("paper", DOT_PAPERS)
def test_fields_and_markers_keep_off_each_other(paper):
    sheet = dot_sheet(paper)
    boxes = [(f.x_mm - 2, f.y_mm - 4, f.x_mm + 82, f.y_mm + 60) for f in sheet.fields]
    for m in sheet.card.markers:
        white = m.side_mm / 4
        far = m.side_mm + white
        boxes.append((m.x_mm - white, m.y_mm - white, m.x_mm + far, m.y_mm + far))

    for (l1, t1, r1, b1), (l2, t2, r2, b2) in combinations(boxes, 2):
        assert r1 <= l2 or r2 <= l1 or b1 <= t2 or b2 <= t1
    width, height = sheet.card.paper_mm
    # Printers leave some 5 mm of the paper's edge white.
    left, top, right, low = np.array(boxes).T
    assert left.min() >= 5 and top.min() >= 5
    assert right.max() <= width - 5 and low.max() <= height - 5


def test_no_marker_of_a_dot_sheet_is_one_of_a_scale_card():
    cards = {m.id for card in CARD_LAYOUTS.values() for m in card.markers}
    sheets = [m.id for paper in DOT_PAPERS for m in dot_sheet(paper).card.markers]

    assert len(set(sheets)) == len(sheets)
    assert not cards & set(sheets)


def test_the_sheet_is_the_same_in_every_session():
    # Placed anew, without what was kept from before.
    first = dot_sheet("a4")
    dot_sheet.cache_clear()

    assert dot_sheet("a4") == first


def test_the_nearest_disc_is_named_with_its_distance():
    field = DotField("X", 0, 0, (Disc(10, 10, 1.0), Disc(20, 10, 2.0)))

    assert nearest_disc(field, (20, 13)) == (1, 3.0)
    assert nearest_disc(DotField("Y", 0, 0, ()), (1, 1)) is None
