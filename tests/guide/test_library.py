"""The entries looked up and found by words."""

import pytest

from defectlog.errors import NotFoundError
from defectlog.guide import families, kind, kinds, search


def test_the_keys_that_are_promised_are_there():
    keys = {one.key for one in kinds()}

    assert keys >= {
        "pinholes-tool",
        "pinholes-bag",
        "dry-spot",
        "peel-tear",
        "tacky-adhesive",
        "tacky-undercure",
        "bridging",
        "starved-bag",
    }


def test_a_kind_is_found_by_its_key():
    assert kind("dry-spot").title == "Dry spot"


def test_a_kind_that_is_not_there_is_said_so():
    with pytest.raises(NotFoundError, match="moon-dust"):
        kind("moon-dust")


def test_every_kind_stands_on_one_shelf():
    on_shelves = [one.key for _, held in families() for one in held]

    assert sorted(on_shelves) == sorted(one.key for one in kinds())


def test_no_words_find_everything():
    assert set(search("")) == set(kinds())
    assert set(search("  ")) == set(kinds())


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


def test_every_word_has_to_be_found():
    assert search("pinhole moonlight") == ()
