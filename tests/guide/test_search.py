"""Found by what a maker would call it, misspelt or not."""

import pytest

from defectlog.guide import kinds, look_up, search
from defectlog.guide.search import slips_between
from tests.guide.made_up import made_up


def first_three(words):
    return [one.key for one in search(words)[:3]]


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("sticky", {"tacky-adhesive", "tacky-undercure", "tacky-blush"}),
        ("it is sticky", {"tacky-adhesive", "tacky-undercure", "tacky-blush"}),
        ("white specks", {"pinholes-tool", "air-bubbles"}),
        ("fuzzy edge", {"edge-chip"}),
        ("fuzzy", {"peel-tear", "edge-chip"}),
        ("pin holes", {"pinholes-tool", "pinholes-bag"}),
        ("white patch", {"dry-spot"}),
        ("hollow sound", {"skin-core", "bridging"}),
        ("sounds dull", {"skin-core", "delam-edge"}),
        ("milky", {"air-bubbles", "tacky-blush"}),
        ("white corner", {"bridging"}),
        ("spider cracks", {"coat-crack"}),
        ("bumps", {"blister"}),
        ("shiny pool", {"resin-rich"}),
        ("paint will not stick", {"release-transfer"}),
        ("water beads", {"release-transfer", "coating-transfer"}),
        ("torn by peel ply", {"peel-tear"}),
        ("thread left in", {"peel-embedded"}),
        ("smells", {"tacky-undercure"}),
        ("brown and cracked", {"exotherm-scorch"}),
        ("IN", {"inclusion"}),
    ],
)
def test_a_symptom_finds_its_kinds_among_the_first_three(words, wanted):
    assert wanted <= set(first_three(words))


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("stikcy", "tacky-adhesive"),  # two letters swapped
        ("tackey", "tacky-undercure"),  # one too many
        ("delaminaton", "delam-edge"),  # one missing
        ("wrincle", "wrinkle"),  # a wrong one
        ("brigding", "bridging"),
        ("blisster", "blister"),
        ("pinhloes", "pinholes-tool"),
        ("porrosity", "pinholes-tool"),
        ("exothrem", "exotherm-scorch"),
        ("delamanation", "delam-edge"),
        ("wrapped shpae", "warp"),
        ("hallow sound", "skin-core"),
        ("torn fibers", "peel-tear"),  # the other spelling of the word
        ("peelply left behind", "peel-embedded"),
        ("fish eye", "release-transfer"),
        ("water beading", "release-transfer"),
        ("délamination", "delam-edge"),
        ("scrached", "demould-scratch"),
    ],
)
def test_a_slip_of_the_finger_is_forgiven(words, wanted):
    assert wanted in first_three(words)


@pytest.mark.parametrize(
    ("words", "first"),
    [
        ("pinhole tool", "pinholes-tool"),
        ("dry spot", "dry-spot"),
        ("sticky spray", "tacky-adhesive"),
        ("sticky smell", "tacky-undercure"),
        ("torn", "peel-tear"),
        ("corner", "bridging"),
        ("BR", "bridging"),
        ("starv", "starved-bag"),
        ("puddle", "resin-rich"),
        ("bag pleat", "pleat-imprint"),
        ("peel ply left behind", "peel-embedded"),
        ("coated peel ply", "coating-transfer"),
        ("coil mark", "line-mark"),
        ("dry edge", "race-track"),
        ("wavy fibre", "wrinkle"),
        ("backing film", "inclusion"),
        ("split layers", "delam-edge"),
        ("Fibres LIFTED", "peel-tear"),
        ("drummy", "skin-core"),
        ("crushed foam", "core-dent"),
        ("grid lines", "core-read"),
        ("soapy", "tacky-blush"),
        ("burnt", "exotherm-scorch"),
        ("frayed", "edge-chip"),
        ("does not fit", "warp"),
    ],
)
def test_a_maker_s_words_find_the_kind(words, first):
    assert search(words)[0].key == first


def test_how_a_word_was_read_is_said():
    assert look_up("stikcy").in_words == "“stikcy” read as sticky"
    assert look_up("sticky").in_words == ""


def test_a_word_the_guide_has_is_never_read_as_another():
    # "tack" is one slip from "tacky", and a word of its own.
    assert look_up("tack").read_as == {}


def test_a_word_nothing_is_near_to_is_left_out_and_said_so():
    found = look_up("pinhole moonlight")

    assert [one.key for one in found.kinds] == [one.key for one in search("pinhole")]
    assert found.left_out == ("moonlight",)
    assert "not in the guide: moonlight" in found.in_words


def test_nothing_is_found_for_nonsense():
    assert search("moonlight qqqq") == ()


def test_a_word_that_says_little_does_not_hide_what_a_telling_one_found():
    # Every entry speaks of faces and sides somewhere, few of what is sticky.
    assert set(first_three("sticky face")) == set(first_three("sticky"))


def test_a_kind_that_answers_to_both_words_comes_before_one_that_answers_to_one():
    assert first_three("sticky spray")[0] == "tacky-adhesive"
    assert first_three("sticky smell")[0] == "tacky-undercure"


def test_what_answers_far_less_well_is_not_listed():
    assert len(search("spider cracks")) < 4


def test_a_kind_handed_in_is_found_like_one_of_the_guide():
    own = made_up()

    assert search_among("made-up", own)[0] == own
    assert search_among("maed up defect", own)[0] == own
    assert own not in search_among("sticky", own)


def search_among(words, own):
    return look_up(words, (*kinds(), own)).kinds


def test_nothing_is_found_among_nothing():
    assert look_up("sticky", ()).kinds == ()


def test_no_words_find_everything():
    assert set(search("")) == set(kinds())
    assert set(search(" - ")) == set(kinds())


@pytest.mark.parametrize("one", kinds(), ids=lambda one: one.key)
def test_every_kind_is_found_first_by_its_name_and_its_letters(one):
    assert search(one.title)[0] == one
    assert search(one.code)[0] == one
    assert search(one.key.replace("-", " "))[0] == one


@pytest.mark.parametrize(
    ("one", "other", "slips"),
    [
        ("sticky", "sticky", 0),
        ("stikcy", "sticky", 1),  # swapped
        ("stiky", "sticky", 1),  # missing
        ("stickyy", "sticky", 1),  # too many
        ("stucky", "sticky", 1),  # wrong
        ("ca", "abc", 3),  # a swapped pair is not edited again, so not 2
        ("kitten", "sitting", 3),  # the example of many textbooks
    ],
)
def test_slips_are_counted_as_by_optimal_string_alignment(one, other, slips):
    assert slips_between(one, other, 3) == slips
    assert slips_between(other, one, 3) == slips


def test_more_slips_than_asked_for_are_not_counted_out():
    assert slips_between("kitten", "sitting", 2) == 3
    assert slips_between("a", "abcdefgh", 2) == 3
