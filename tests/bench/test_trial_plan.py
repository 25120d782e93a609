"""How many panels a trial needs, from what the shop's own builds say."""

import math

import pytest
from sqlalchemy.orm import Session

from defectlog.bench.builds import save_facts
from defectlog.bench.trial_plan import guessed, known_spread, size_trial
from defectlog.records import TrialResult
from tests.builders import NOON, make_build, make_part
from tests.measured import add_series


@pytest.fixture
def part(session: Session):
    return make_part(session)


def test_the_spread_is_that_of_builds_made_alike(session: Session, part) -> None:
    # Within each setting the values differ by 0.1 points: squares 2 · 0.1² + 2 · 0.1² over 4.
    add_series(session, part, [0.02, 0.03, 0.04], process="wet-layup")
    add_series(session, part, [0.001, 0.002, 0.003], process="infusion", tack_adhesive="none")
    add_series(session, part, [0.005, 0.006, 0.007], process="infusion", tack_adhesive="light")

    found = known_spread(session, part.id, TrialResult.VOIDS, "tack_adhesive")

    assert found.builds == 6
    assert found.spread.value == pytest.approx(0.001)
    assert "0.1\N{NO-BREAK SPACE}points" in found.words


def test_builds_with_a_leaking_bag_are_left_out_and_told(session: Session, part) -> None:
    add_series(session, part, [0.001, 0.002, 0.003, 0.002], process="infusion")
    (leaky,) = add_series(session, part, [0.05], process="infusion")
    save_facts(session, leaky.id, {"vacuum_lost": True}, NOON)

    found = known_spread(session, part.id, TrialResult.VOIDS, "degassed")

    assert found.builds == 4
    assert "1\N{NO-BREAK SPACE}build whose bag leaked is left out" in found.words


def test_too_few_builds_say_no_spread(session: Session, part) -> None:
    add_series(session, part, [0.001, 0.002, 0.003], process="infusion")
    make_build(session, part, process="infusion")

    assert known_spread(session, part.id, TrialResult.VOIDS, "degassed") is None
    assert known_spread(session, part.id, TrialResult.MASS, "degassed") is None


def test_builds_that_do_not_differ_at_all_say_no_spread(session: Session, part) -> None:
    add_series(session, part, [0.002] * 6, process="infusion")

    assert known_spread(session, part.id, TrialResult.VOIDS, "degassed") is None


def test_the_number_is_that_of_the_printed_example() -> None:
    # The R library pwr, d = 0.5, power 0.8: 63.77, more than any small shop makes; and d = 1:
    # 16.71, so 17 (Cohen 1988, table 2.4.1, prints 17).
    half = size_trial(TrialResult.MASS, 5.0, guessed(10.0), settings=2, by_day=False)
    whole = size_trial(TrialResult.MASS, 10.0, guessed(10.0), settings=2, by_day=False)

    assert half.needed is None and "look for a larger effect" in half.words
    assert whole.needed == 17 and "34 in all" in whole.words


def test_fewer_panels_are_said_to_show_less() -> None:
    sizing = size_trial(TrialResult.MASS, 10.0, guessed(10.0), settings=2, by_day=False)

    numbers = [number for number, _ in sizing.shown]
    assert numbers[0] == 2 and numbers[-1] == 17
    # 3.07 spreads of 10 g for three of each (tests/charts/test_plan.py).
    assert dict(sizing.shown)[3] == "31\N{NO-BREAK SPACE}g"


def test_more_settings_and_days_need_more_panels() -> None:
    plain, three, days = (
        size_trial(TrialResult.EFFORT, 20.0, guessed(20.0), settings=n, by_day=by_day).needed
        for n, by_day in ((2, False), (3, False), (2, True))
    )

    assert three > plain
    assert days > plain


def test_the_number_says_how_sure_it_is(session: Session, part) -> None:
    add_series(session, part, [0.001, 0.002, 0.003, 0.002], process="infusion")
    spread = known_spread(session, part.id, TrialResult.VOIDS, "degassed").spread

    sizing = size_trial(TrialResult.VOIDS, 0.002, spread, settings=2, by_day=False)

    assert spread.high / spread.low == pytest.approx(math.sqrt(9.348 / 0.216), rel=2e-3)
    assert "As surely as the spread is known, it could be" in sizing.words


def test_what_an_earlier_trial_set_does_not_pass_for_spread(session: Session, part) -> None:
    # Apart by 0.5 points because of the tack adhesive, within each setting by 0.1.
    for tack, base in (("none", 0.001), ("light", 0.006)):
        fractions = [base, base + 0.001, base + 0.002]
        add_series(session, part, fractions, process="infusion", degassed=True, tack_adhesive=tack)

    found = known_spread(session, part.id, TrialResult.VOIDS, "degassed")

    assert found.spread.value == pytest.approx(0.001)
