"""The printed card put right by its two check lines: hand sums, refusals, what is kept."""

import math
from dataclasses import replace

import numpy as np
import pytest
from sqlalchemy.orm import Session

from defectlog.bench.intake import Arrival, record
from defectlog.bench.measuring import keep_scale
from defectlog.bench.print_check import (
    forget_print_check,
    print_check,
    print_pct,
    print_pct_words,
    save_print_check,
)
from defectlog.bench.room import scale_words
from defectlog.errors import FormError
from defectlog.measure.lengths.card import CARD_LAYOUTS
from defectlog.measure.lengths.markers import find_card
from defectlog.measure.lengths.printed import CheckLines, put_right
from defectlog.measure.lengths.scale import Scale, given_scale
from defectlog.records import Face, PhotoStage, PrintCheck
from tests.builders import NOON, make_build, make_photo
from tests.measure.views import drawn_card, seen

FLAT = Scale(
    "card",
    px_per_mm=10.0,
    uncertainty_pct=0.5,
    tilt_deg=0.0,
    homography=((0.1, 0.0, 0.0), (0.0, 0.1, 0.0), (0.0, 0.0, 1.0)),
)


def test_a_card_printed_too_large_makes_everything_larger_by_as_much():
    # 120.6 mm across and 119.4 mm down: 0.5 % too large one way, 0.5 % too small the other.
    right = put_right(FLAT, CheckLines(120.6, 119.4))

    (x, y) = right.to_mm([(1000, 1000)])[0]
    assert (x, y) == pytest.approx((100.5, 99.5))
    assert right.px_per_mm == pytest.approx(10 / math.sqrt(1.005 * 0.995))
    # The scale by area follows from the plane alike.
    assert right.px_per_mm_at(300, 200) == pytest.approx(right.px_per_mm)
    # 0.5 % held 0.2 % for an unmeasured print: 0.21 % = 0.25 mm of 120 mm takes its place.
    expected = math.sqrt(0.5**2 - 0.2**2 + (25 / 120) ** 2)
    assert right.uncertainty_pct == pytest.approx(expected)


def test_a_card_shrunk_in_printing_and_checked_gives_the_true_scale():
    # The card is drawn as designed and photographed; to have been printed at 96 %, the camera
    # only has to be taken as standing nearer: true px/mm = as found / 0.96.
    grey, true, _ = seen(drawn_card(CARD_LAYOUTS["a4"]), tilt_deg=6)
    found = find_card(grey)

    right = put_right(found, CheckLines(115.2, 115.2))

    assert right.px_per_mm == pytest.approx(true / 0.96, rel=0.003)


def test_a_scale_that_is_not_from_a_card_is_left_alone():
    check = CheckLines(121, 121)

    assert put_right(given_scale(8.0), check) == given_scale(8.0)


@pytest.mark.parametrize(("pct", "words"), [(0.42, "+0.4 %"), (-1.25, "−1.2 %"), (0.01, "±0.0 %")])
def test_the_correction_is_said_with_its_sign(pct, words):
    assert print_pct_words(pct).replace("\N{NO-BREAK SPACE}", " ") == words


@pytest.mark.parametrize(
    ("across", "down", "field", "said"),
    [
        (12.0, 120.0, "across_mm", "100 to 140"),
        (120.0, 4.72, "down_mm", "in millimetres"),
        (120.0, 1e9, "down_mm", "out of range"),
        (120.0, 124.5, "down_mm", "measure both again"),
    ],
)
def test_lengths_no_check_line_can_have_are_refused(session: Session, across, down, field, said):
    with pytest.raises(FormError, match=said) as refused:
        save_print_check(session, across, down, NOON)

    assert [fault.field for fault in refused.value.faults] == [field]
    assert print_check(session) is None


def arrival(scale: Scale) -> Arrival:
    return Arrival("ab" * 32, 1000, "image/jpeg", 400, 300, None, scale)


def take(session: Session, scale: Scale):
    return record(
        session,
        make_build(session).id,
        arrival(scale),
        name="door.jpg",
        face=Face.TOOL,
        stage=PhotoStage.DEMOULD,
        at=NOON,
    ).photo


def test_photos_taken_in_afterwards_are_put_right_and_say_so(session: Session):
    before = take(session, FLAT)
    save_print_check(session, 120.5, 120.5, NOON)
    after = keep_scale(session, make_photo(session, before.build).id, FLAT, NOON)

    assert before.scale.px_per_mm == 10 and before.scale.print_pct is None
    assert "print checked" not in scale_words(before.scale)
    assert after.px_per_mm == pytest.approx(10 / (120.5 / 120))
    assert after.print_pct == pytest.approx(0.4167, abs=1e-4)
    assert scale_words(after).replace("\N{NO-BREAK SPACE}", " ").endswith("print checked: +0.4 %")
    assert np.array(after.homography)[0, 0] == pytest.approx(0.1 * 120.5 / 120)


def test_a_photo_on_its_way_in_is_put_right(session: Session):
    save_print_check(session, 119.4, 119.4, NOON)

    photo = take(session, FLAT)

    assert photo.scale.px_per_mm == pytest.approx(10 / 0.995)
    assert photo.scale.print_pct == pytest.approx(-0.5)


def test_the_last_check_holds_until_it_is_taken_back(session: Session):
    save_print_check(session, 118.0, 118.0, NOON)
    save_print_check(session, 120.6, 120.6, NOON)

    assert print_pct(print_check(session)) == pytest.approx(0.5)
    forget_print_check(session, NOON)
    assert print_check(session) is None
    assert session.query(PrintCheck).count() == 3
    forget_print_check(session, NOON)
    assert session.query(PrintCheck).count() == 3


def test_a_scale_without_doubt_gets_none(session: Session):
    check = CheckLines(120.6, 120.6)

    assert put_right(replace(FLAT, uncertainty_pct=None), check).uncertainty_pct is None
