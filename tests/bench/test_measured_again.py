"""Two measurements of one photo: what was set otherwise, and whether the figures agree."""

import pytest

from defectlog.bench.measured_again import differs_words
from defectlog.bench.room import measurement_words
from defectlog.records import Measurement, Photo, PhotoScale
from tests.builders import NOON


def made(fraction=0.02, count=10, *, region=None, scale=None, version="2", **settings):
    return Measurement(
        photo=Photo(),
        warnings=[],
        region=region,
        settings={"look": "auto", "smallest_mm": None} | settings,
        scale=scale,
        scale_id=None if scale is None else scale.id,
        version=version,
        void_fraction=fraction,
        void_fraction_low=fraction - 0.002,
        void_fraction_high=fraction + 0.002,
        count=count,
    )


def said(other, latest=None):
    return differs_words(other, latest or made()).replace("\N{NO-BREAK SPACE}", " ")


CORNERS = [[0, 0], [9, 0], [9, 9]]


@pytest.mark.parametrize(
    ("other", "words"),
    [
        (made(region=CORNERS), "Unlike the latest it kept to a region; "),
        (made(look="dark"), "Unlike the latest it looked for dark voids only; "),
        (made(smallest_mm=0.5), "Unlike the latest it counted voids from 0.5 mm; "),
        (
            made(region=CORNERS, look="bright", version="1"),
            "Unlike the latest it kept to a region, looked for bright voids only and was made "
            "by method version 1; ",
        ),
        (
            made(scale=PhotoScale(id=4, source="card", px_per_mm=12.34)),
            "Unlike the latest it went by a scale of 12.34 px/mm; ",
        ),
        (
            made(threshold=0.3),
            "Unlike the latest it had its threshold set by hand, 30 % darker than the surface "
            "around it; ",
        ),
        (made(leave_out=[CORNERS]), "Unlike the latest it left out 1 area; "),
        (made(), "It was set just as the latest; "),
    ],
)
def test_what_was_set_otherwise_comes_first(other, words):
    assert said(other).startswith(words)


def test_the_other_way_round_the_latest_kept_to_a_region():
    assert "took in the whole photo" in said(made(), made(region=CORNERS))
    assert "another region" in said(made(region=CORNERS), made(region=CORNERS[::-1]))
    assert "found the threshold by itself" in said(made(), made(threshold=0.3))
    assert "left out nothing" in said(made(), made(leave_out=[CORNERS]))
    assert "another area" in said(made(leave_out=[CORNERS]), made(leave_out=[CORNERS[::-1]]))
    assert "every void the photo can show" in said(made(), made(smallest_mm=0.5))


def test_figures_are_held_against_each_other_with_their_intervals():
    # 1.8 to 2.2 % and 2.1 to 2.5 % overlap; 1.8 to 2.2 % and 2.8 to 3.2 % do not.
    assert said(made(0.023, 12)).endswith(
        "it found 2.3 % against 2.0 % and 12 voids against 10, and the measuring intervals overlap."
    )
    assert said(made(0.03, 1)).endswith(
        "1 void against 10, and the measuring intervals do not overlap."
    )


def test_the_same_again_has_the_same_figures():
    assert said(made()) == "It was set just as the latest; its figures are the same."


def test_only_an_earlier_measurement_has_the_sentence():
    latest, earlier = made(), made(smallest_mm=0.5)
    for row in (latest, earlier):
        row.at, row.inspected_px, row.not_inspected_fraction = NOON, 1000, 0.0

    assert measurement_words(latest, latest=latest)["differs_words"] is None
    assert "0.5" in measurement_words(earlier, latest=latest)["differs_words"]
