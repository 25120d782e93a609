"""How a figure was made: words and pictures of each step, and what was turned away, with why."""

import io
from functools import partial
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from PIL import Image
from sqlalchemy.orm import Session

from defectlog.bench.how_made import how_made
from defectlog.bench.how_pictures import COUNTED, step_jpeg
from defectlog.bench.intake import take_in
from defectlog.bench.measuring import keep_measurement, measure_photo, scale_by_points
from defectlog.errors import NotFoundError
from defectlog.photos.renditions import PhotoStore
from defectlog.records import Face, Measurement, PhotoStage
from tests.builders import NOON, make_build
from tests.measure.patches.test_patches import patched
from tests.measure.search.test_close_by import cloth
from tests.measure.search.test_either_side import spots
from tests.pictures import Surface, render

PX_PER_MM = 12.0
PICTURE = render(Surface(size_mm=(60, 45), fraction=0.03, seed=4, px_per_mm=PX_PER_MM))
REGION = [[50, 50], [600, 50], [600, 450], [50, 450]]
STEPS = ("grey", "light", "even", "standing-out", "tone", "swing", "counted")


@pytest.fixture
def store(tmp_path: Path) -> PhotoStore:
    return PhotoStore(tmp_path / "photos")


def measured(session: Session, store: PhotoStore, picture=PICTURE, **settings) -> Measurement:
    png = io.BytesIO()
    Image.fromarray(picture.grey).save(png, "PNG")
    photo = take_in(
        session,
        store,
        make_build(session).id,
        png.getvalue(),
        name="door.png",
        face=Face.TOOL,
        stage=PhotoStage.DEMOULD,
        at=NOON,
    ).photo
    scale_by_points(session, photo.id, [(100, 100), (700, 100)], 50, NOON)
    session.expire(photo)
    region = settings.pop("region", None)
    found = measure_photo(photo, store, region=region, **settings)
    return keep_measurement(session, photo.id, found, region=region, at=NOON)


def plain(how) -> str:
    return " ".join(words for step in how.steps for words in step.words).replace("\xa0", " ")


def test_the_steps_tell_the_figures_of_this_very_measurement(session: Session, store):
    row = measured(session, store)

    how = how_made(row, store)

    said = plain(how)
    assert [step.title for step in how.steps][0] == "The photo in grey"
    assert f"{row.count} voids counted" in said
    # 600 px over 50 mm are 12 px/mm.
    assert "12 px/mm from two points" in said
    assert "darker than its surroundings" in said
    surface = how.steps[2]
    assert surface.histogram.line_x is not None
    assert any(bar.is_past for bar in surface.histogram.bars)
    assert not any("may differ" in note for note in how.notes)


def test_voids_of_the_other_side_that_are_counted_too_are_told(session: Session, store):
    both = render(Surface(size_mm=(60, 45), fraction=0.01, extra=partial(spots, count=60)))
    row = measured(session, store, both)

    how = how_made(row, store)

    assert "spots stood out as clearly" in plain(how)
    assert any("dark and bright found by itself" in note for note in how.notes)


def test_voids_told_by_what_is_near_say_so(session: Session, store):
    grey, _ = cloth(0.22, 0.05)
    row = measured(session, store, SimpleNamespace(grey=grey))

    how = how_made(row, store)

    assert "compared with the middle of what lies within 0.5 mm of it" in plain(how)
    assert any("compared with what is near, over 1" in note for note in how.notes)


def test_a_patch_of_the_cloth_is_told_and_outlined(session: Session, store):
    row = measured(session, store, patched(-0.1))

    how = how_made(row, store)

    (cloth,) = [step for step in how.steps if step.title == "The cloth as a whole"]
    said = " ".join(cloth.words).replace("\xa0", " ")
    assert "1 patch outlined: counted as void" in said and "dashes" not in said
    with Image.open(io.BytesIO(step_jpeg(row, store, "tone"))) as picture:
        colours = np.asarray(picture.convert("RGB")).astype(int)
    assert (np.abs(colours - COUNTED).max(axis=2) < 40).sum() > 100


def test_a_patch_that_was_not_counted_is_not_told_as_counted(session: Session, store):
    row = measured(session, store, patched(-0.1), look="dark")  # it is a pale one

    (cloth,) = [s for s in how_made(row, store).steps if s.title == "The cloth as a whole"]

    said = " ".join(cloth.words).replace("\xa0", " ")
    assert "1 patch in dashes may be one: not counted" in said and "counted as void" not in said


def test_by_hand_no_patch_is_looked_for(session: Session, store):
    row = measured(session, store, threshold=0.4)

    how = how_made(row, store)

    assert "The cloth as a whole" not in [step.title for step in how.steps]
    with pytest.raises(NotFoundError):
        step_jpeg(row, store, "swing")


def test_a_sound_surface_is_told_as_sound(session: Session, store):
    sound = render(Surface(size_mm=(60, 45), rake=0.2))

    how = how_made(measured(session, store, sound), store)

    said = plain(how)
    assert "nothing was taken for a void" in said
    assert "may have been missed" in said
    assert how.steps[2].histogram.line_x is None


def test_a_figure_of_an_earlier_method_says_that_steps_may_differ(session: Session, store):
    row = measured(session, store)
    session.flush()
    session.expunge(row)  # never written back: a measurement is not edited
    row.version = "0.9"

    assert any("method version 0.9" in note for note in how_made(row, store).notes)


@pytest.mark.parametrize("step", STEPS)
def test_every_step_has_its_picture_no_longer_than_a_screen(session: Session, store, step):
    row = measured(session, store, region=REGION)

    with Image.open(io.BytesIO(step_jpeg(row, store, step))) as picture:
        assert picture.format == "JPEG"
        assert max(picture.size) <= 1200
        beside = np.asarray(picture)[:40].astype(float)
        within = np.asarray(picture)[100:400, 100:550].astype(float)
    # What lies beside the region is darkened to a third.
    assert beside.mean() < 0.6 * within.mean()


def test_the_last_picture_colours_the_voids_that_were_drawn(session: Session, store):
    row = measured(session, store)
    with Image.open(io.BytesIO(step_jpeg(row, store, "counted"))) as picture:
        colours = np.asarray(picture.convert("RGB")).astype(int)

    large = sorted(PICTURE.voids, key=lambda void: -void.area)[:10]
    for void in large:
        middle = colours[round(void.y), round(void.x)]
        assert np.abs(middle - COUNTED).max() < 40  # JPEG


def test_there_is_no_picture_of_another_step(session: Session, store):
    with pytest.raises(NotFoundError):
        step_jpeg(measured(session, store), store, "magic")
