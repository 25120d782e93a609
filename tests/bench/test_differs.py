"""What was different about one build, beside the builds next to it."""

from defectlog.bench.differs import differing_facts
from defectlog.units import NBSP

NUMBERS = (1, 2, 3, 4, 5)


def about_three(own: dict, others: dict, **more) -> list[str]:
    """Build 3 among four builds that are all alike."""
    known = dict.fromkeys(NUMBERS, others) | {3: own}
    return [words.replace(NBSP, " ") for words in differing_facts(2, NUMBERS, known, **more)]


def test_a_word_that_no_neighbour_has_is_told():
    assert about_three({"peel_pace": "rushed"}, {"peel_pace": "slow"}) == [
        "Pace: rushed (neighbours slow and steady)"
    ]


def test_readings_that_differ_by_less_than_a_twentieth_are_alike():
    assert about_three({"thickness_mm": 10.95}, {"thickness_mm": 10.9}) == []
    assert about_three({"thickness_mm": 12.0}, {"thickness_mm": 10.9}) != []


def test_a_number_has_to_lie_beyond_its_neighbours_by_more_than_they_lie_apart():
    known = {n: {"ambient_c": c} for n, c in zip(NUMBERS, (18, 20, 24, 22, 19), strict=True)}

    assert differing_facts(2, NUMBERS, known) == ()  # 24 is 2 beyond, they are 4 apart
    known[3] = {"ambient_c": 27}
    assert differing_facts(2, NUMBERS, known) != ()


def test_another_lay_up_is_told_without_listing_every_ply():
    ply = {"material": "twill", "areal_weight_g_m2": 200.0, "orientation": "0/90", "face": "tool"}

    (words,) = about_three({"plies": [ply]}, {"plies": [ply, ply]})

    assert words == "Plies, tool side first: none of the neighbours has the same"


def test_a_fact_that_is_left_out_or_too_few_know_is_not_compared():
    assert about_three({"effort_min": 300}, {"effort_min": 90}, but=("effort_min",)) == []
    known = {1: {"ambient_c": 20}, 3: {"ambient_c": 31}}
    assert differing_facts(2, NUMBERS, known) == ()
    assert differing_facts(2, NUMBERS, {}) == ()
