"""A finding held against its part's limit, as ASTM D2563 words it: up to and including."""

import pytest
from sqlalchemy.orm import Session

from defectlog.bench.limits import judge, verdict
from defectlog.bench.parts import LimitPlan
from tests.builders import make_build, make_finding, make_part, make_photo
from tests.measured import add_measurement


@pytest.mark.parametrize(
    ("value", "limit", "pct", "standing"),
    [
        # Only over rejects: a limit of 0.8 mm accepts 0.80 and
        # rejects 0.81 (the logic of ASTM D2563's classes).
        (0.80, 0.8, None, "near"),
        (0.81, 0.8, None, "over"),
        (0.70, 0.8, None, "within"),
        (0.75, 0.8, None, "near"),
        # An interval that reaches over the limit claims neither.
        (0.81, 0.8, 5, "near"),
        (0.79, 0.8, 5, "near"),
        (0.90, 0.8, 5, "over"),
        # None allowed rejects any.
        (0.01, 0, None, "over"),
        (0, 0, None, "within"),
    ],
)
def test_a_limit_may_be_reached_and_not_passed(value, limit, pct, standing) -> None:
    assert judge(value, limit, pct) == standing


def test_a_line_is_held_against_the_largest_size(session: Session) -> None:
    part = make_part(session, limits={"dry-spot": LimitPlan(largest_mm=9.5)})
    photo = make_photo(session, make_build(session, part), px_per_mm=10)
    # 100 px at 10 px/mm: 10 mm, 1 % sure.
    told = verdict(make_finding(session, photo))

    assert told.standing == "over"
    assert "10.0" in told.words and "limit 9.5" in told.words and "over" in told.words


def test_without_a_scale_no_limit_is_claimed(session: Session) -> None:
    part = make_part(session, limits={"dry-spot": LimitPlan(largest_mm=9.5)})
    told = verdict(make_finding(session, make_photo(session, make_build(session, part))))

    assert told.standing == ""
    assert "px" in told.words and "no scale" in told.words


def test_pinholes_are_held_against_what_was_counted_not_the_outline(session: Session) -> None:
    limit = LimitPlan(largest_mm=0.8, per_dm2=50, area_fraction=0.01)
    part = make_part(session, limits={"pinholes-tool": limit})
    photo = make_photo(session, make_build(session, part), px_per_mm=10)
    finding = make_finding(session, photo, kind="pinholes-tool", points=((0, 0), (400, 300)))
    # 0.9 per cm² are 90 per dm²: over the limit of 50.
    add_measurement(session, photo, 0.004, density_per_cm2=0.9, largest_mm=0.5)
    session.expire_all()

    told = verdict(finding)
    assert told.standing == "over"
    words = told.words.replace("\N{NO-BREAK SPACE}", " ")
    assert "largest 0.5 mm, limit 0.8 mm: within" in words
    assert "90 per dm², limit 50 per dm²: over" in words
    assert "void fraction 0.40 % (0.36 to 0.44 %), limit 1 %: within" in words
