"""The registry of build facts: read as people type, written back the same."""

import pytest

from defectlog.errors import FieldError
from defectlog.facts import FACTS, Stage, fact_text, fact_words, of_stage, read_fact, read_named


def test_a_decimal_comma_is_a_decimal_point() -> None:
    mass = FACTS["mass_g"]
    assert read_fact(mass, "412,5") == read_fact(mass, "412.5") == 412.5


@pytest.mark.parametrize("text", ["1.234,5", "1,234,567", "1.2.3", "12 mbar", "nan", "inf", "1_0"])
def test_a_number_that_could_be_read_in_two_ways_or_none_is_refused(text: str) -> None:
    with pytest.raises(FieldError):
        read_fact(FACTS["resin_mixed_g"], text)


def test_a_refusal_names_the_range_with_its_unit() -> None:
    with pytest.raises(FieldError, match="0 to 180°"):
        read_fact(FACTS["peel_fold_back_deg"], "270")


def test_a_refusal_gives_the_number_as_it_was_typed() -> None:
    # Rounded to three digits both would read as numbers that are allowed.
    with pytest.raises(FieldError, match="2000.4\xa0h is outside the range"):
        read_fact(FACTS["demould_after_h"], "2000,4")
    with pytest.raises(FieldError, match="5000.4\xa0g/m² is outside the range"):
        read_fact(FACTS["plies"], "woven glass; 5000.4; 0/90; tool")


def test_range_ends_are_allowed() -> None:
    assert read_fact(FACTS["peel_fold_back_deg"], "180") == 180
    assert read_fact(FACTS["peel_fold_back_deg"], "0") == 0


def test_plies_are_read_line_by_line_and_written_back_the_same() -> None:
    plies = FACTS["plies"]
    text = "woven glass; 200; 0/90; tool\nstitched glass; 300,5; ±45; bag"
    read = read_fact(plies, text)
    assert [ply["areal_weight_g_m2"] for ply in read] == [200, 300.5]
    assert read_fact(plies, fact_text(plies, read)) == read


def test_a_ply_without_weight_is_refused_with_an_example() -> None:
    with pytest.raises(FieldError, match="woven glass; 200; 0/90; tool"):
        read_fact(FACTS["plies"], "woven glass")


@pytest.mark.parametrize("fact", FACTS.values(), ids=lambda f: f.name)
def test_every_fact_is_complete_and_comes_back_from_its_own_text(fact) -> None:
    assert fact.label
    samples = {
        "number": [fact.low, fact.high],
        "yes-no": [True, False],
        "choice": list(fact.choices),
        "text": ["gel coat on glass"],
        "plies": [],
    }[fact.kind]
    if fact.kind == "number":
        assert fact.low is not None and fact.high is not None and fact.low < fact.high
        assert fact.unit
    if fact.kind == "choice":
        assert len(fact.choices) >= 2
    for value in samples:
        assert read_fact(fact, fact_text(fact, value)) == value
        assert fact_words(fact, value)


def test_an_empty_field_is_an_unknown_fact() -> None:
    assert all(read_fact(fact, "  ") is None for fact in FACTS.values())


def test_every_stage_has_facts_that_stand_open_on_its_form() -> None:
    for stage in Stage:
        assert any(fact.common for fact in of_stage(stage)), stage


def test_facts_are_given_by_name_on_the_command_line() -> None:
    assert read_named("degassed=no") == ("degassed", False)
    with pytest.raises(FieldError):
        read_named("degassed")
    with pytest.raises(FieldError):
        read_named("moon_phase=full")
