"""The entries looked up by key and by shelf."""

import pytest

from defectlog.errors import NotFoundError
from defectlog.guide import families, kind, kinds


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
