"""The dot sheet printed to pixels and measured there with other tools than drew it."""

import math

import numpy as np
import pymupdf
import pytest
from scipy import ndimage

from defectlog.measure.dot_sheet import FIELD_MM, dot_sheet
from defectlog.report.dot_sheet import dot_sheet_pdf

DPI = 600
PX_PER_MM = DPI / 25.4  # the inch is 25.4 mm exactly since 1959
PAPER_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}  # ISO 216; 8.5 in × 11 in


def page_of(paper: str) -> pymupdf.Page:
    return pymupdf.open(stream=dot_sheet_pdf(paper), filetype="pdf")[0]


def printed(paper: str) -> np.ndarray:
    pixmap = page_of(paper).get_pixmap(dpi=DPI, colorspace=pymupdf.csGRAY)
    return np.frombuffer(pixmap.samples, np.uint8).reshape(pixmap.height, pixmap.width)


@pytest.mark.parametrize("paper", PAPER_MM)
def test_the_page_is_one_sheet_of_its_standard_size(paper):
    page = page_of(paper)

    assert len(page.parent) == 1
    # A PDF counts in points of 1/72 in.
    size = (page.rect.width * 25.4 / 72, page.rect.height * 25.4 / 72)
    assert size == pytest.approx(PAPER_MM[paper], abs=0.005)


@pytest.mark.parametrize("paper", PAPER_MM)
def test_each_field_holds_as_much_ink_as_it_says_and_as_many_discs(paper):
    ink = 1 - printed(paper) / 255.0
    for field in dot_sheet(paper).fields:
        left, top = round(field.x_mm * PX_PER_MM), round(field.y_mm * PX_PER_MM)
        wide, tall = (round(side * PX_PER_MM) for side in FIELD_MM)
        own = ink[top : top + tall, left : left + wide]

        assert own.mean() == pytest.approx(field.printed_fraction, rel=0.005, abs=1e-9)
        assert ndimage.label(own > 0.2)[1] == len(field.discs)
        assert f"{field.letter}" in page_of(paper).get_text()


def test_a_disc_is_as_large_and_stands_where_the_data_say():
    ink = 1 - printed("a4") / 255.0
    disc = dot_sheet("a4").fields[1].discs[0]
    reach = round((disc.d_mm / 2 + 0.2) * PX_PER_MM)
    column, row = round(disc.x_mm * PX_PER_MM), round(disc.y_mm * PX_PER_MM)
    own = ink[row - reach : row + reach, column - reach : column + reach]
    y, x = np.indices(own.shape)

    diameter = 2 * math.sqrt(own.sum() / math.pi) / PX_PER_MM
    assert diameter == pytest.approx(3.0, abs=0.005)
    assert (column - reach + 0.5 + (x * own).sum() / own.sum()) / PX_PER_MM == pytest.approx(
        disc.x_mm, abs=0.01
    )
    assert (row - reach + 0.5 + (y * own).sum() / own.sum()) / PX_PER_MM == pytest.approx(
        disc.y_mm, abs=0.01
    )


@pytest.mark.parametrize("paper", PAPER_MM)
def test_nothing_stands_in_the_white_round_a_marker(paper):
    picture = printed(paper)
    for marker in dot_sheet(paper).card.markers:
        white = marker.side_mm / 4 - 0.1
        around = picture[
            round((marker.y_mm - white) * PX_PER_MM) : round(
                (marker.y_mm + marker.side_mm + white) * PX_PER_MM
            ),
            round((marker.x_mm - white) * PX_PER_MM) : round(
                (marker.x_mm + marker.side_mm + white) * PX_PER_MM
            ),
        ].copy()
        edge = round(white * PX_PER_MM)
        around[edge - 2 : -edge + 2, edge - 2 : -edge + 2] = 255
        assert around.min() == 255


def test_the_same_sheet_is_the_same_file():
    assert dot_sheet_pdf("letter") == dot_sheet_pdf("letter")
