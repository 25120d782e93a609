"""Which voids a cloth hides, and what is made to look for them on."""

from dataclasses import replace

import numpy as np
import pytest

from defectlog.measure.candidates.sides import tails_of
from defectlog.measure.cloth.surface import prepare
from defectlog.measure.cloth.unweave import Unwoven, unwoven
from defectlog.measure.search.both_sides import both_sides
from tests.pictures import Surface, render

CARBON = Surface(
    size_mm=(60, 45), light=0.07, noise=0.003, two_tone=0.3, weave=0.2, fraction=0.03, contrast=0.7
)
BRIGHT = replace(CARBON, contrast=-1.2)


def prepared(scene: Surface):
    grey = render(scene).grey
    return prepare(grey, np.ones(grey.shape, dtype=bool), scene.px_per_mm)


@pytest.fixture
def made(monkeypatch) -> list[str]:
    """The looks that cloth was taken out of a surface for, in order."""
    looks, bare = [], Unwoven.bare
    monkeypatch.setattr(Unwoven, "bare", lambda self, *own: looks.extend(own) or bare(self, *own))
    return looks


def test_beside_clear_bright_voids_few_pixels_say_that_there_are_no_dark_ones(made):
    sides = both_sides(prepared(BRIGHT), "auto", None)

    assert made == ["bright"]
    assert sides.first == "bright"
    assert sides.tails["dark"].bare
    assert not sides.tails["dark"].may_have_voids


def test_what_was_not_made_is_made_when_it_is_asked_for(made):
    surface = prepared(BRIGHT)
    sides = both_sides(surface, "auto", None)
    made.clear()

    dark = sides.surface_for("dark")

    assert made == ["dark"]
    assert sides.surface_for("dark") is dark
    assert np.array_equal(
        dark.smooth, unwoven(surface, tails_of(surface, "auto")).bare("dark")["dark"].smooth
    )


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("fraction", [0.0, 0.03])
def test_squares_say_of_voids_what_all_pixels_do(fraction, seed):
    surface = prepared(replace(CARBON, fraction=fraction, seed=seed))
    weave = unwoven(surface, tails_of(surface, "auto"))

    squares, _ = weave.in_squares("dark", None)
    few = tails_of(squares, "dark")["dark"]
    told = tails_of(weave.bare("dark")["dark"], "dark")["dark"]

    assert few.has_voids == told.has_voids == (fraction > 0)
    assert few.reach == pytest.approx(told.reach, rel=0.25)
