"""A figure that took the bench beside the part for a void is said to, and stands for no build."""

import pytest
from sqlalchemy.orm import Session

from defectlog.bench.bench_in_view import shows_bench
from defectlog.bench.room import measurement_words
from defectlog.bench.surface_voids import surface_voids
from defectlog.demo.surfaces import render
from defectlog.measure.lengths.markers import find_card
from defectlog.measure.voids import measure_voids
from tests.browser.lid import SPEC
from tests.builders import make_build, make_photo
from tests.measured import add_measurement

MIXED = (
    "Light and dark differ by 225 % of the light, more than any cloth by itself: the bench or "
    "another part seems to be in view. Outline the part."
)
CUT = "One void takes 20 % of the region and is cut by its edge: outline the part."


@pytest.fixture(scope="module")
def photo_and_outline():
    picture, truth = render(SPEC)
    return picture, truth.part_px


def test_a_lid_on_its_bench_is_seen_for_what_it_is(photo_and_outline) -> None:
    picture, _outline = photo_and_outline
    whole = measure_voids(picture, scale=find_card(picture))

    # The wood of the bench is no cloth: nothing of it has to be taken for a void to tell.
    assert shows_bench(None, whole.warnings)
    assert any("Outline the part" in words for words in whole.warnings)


def test_outlined_it_is_the_lid_alone(photo_and_outline) -> None:
    picture, outline = photo_and_outline
    lid = measure_voids(picture, scale=find_card(picture), region=outline)

    assert not shows_bench(outline, lid.warnings)


@pytest.mark.parametrize("warning", [CUT, MIXED])
def test_such_a_figure_stands_for_no_build(session: Session, warning: str) -> None:
    photo = make_photo(session, make_build(session), px_per_mm=10)
    spoilt = add_measurement(session, photo, 0.2, warnings=[warning])
    assert surface_voids(session, photo.build.part_id) == {}
    assert measurement_words(spoilt)["shows_bench"]

    add_measurement(session, photo, 0.01, region=[[0, 0], [400, 0], [400, 300]])
    (surface,) = surface_voids(session, photo.build.part_id).values()
    assert surface[photo.build_id].value == pytest.approx(0.01)
