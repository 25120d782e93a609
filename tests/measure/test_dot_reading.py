"""Photos of the printed dot sheet read: the PDF put through a camera, true by drawing."""

import io

import numpy as np
import pytest
from PIL import Image

from defectlog.measure.dot_reading import NoDotSheetError, read_dot_sheet
from defectlog.measure.dot_sheet import FRACTIONS
from tests.dot_photo import photographed, printed

CAMERAS = {
    "squarely": {"paper": "a4"},
    "tilted, light from one side": {
        "paper": "a4", "tilt_deg": 12, "axis_deg": 70, "rake": 0.4, "seed": 8
    },
    "from near, noisy": {"paper": "a4", "px_per_mm": 11, "noise": 0.012, "quality": 80},
    "on Letter": {"paper": "letter"},
}  # fmt: skip


def pixels(jpeg: bytes) -> np.ndarray:
    with Image.open(io.BytesIO(jpeg)) as picture:
        return np.array(picture)


@pytest.mark.parametrize("camera", CAMERAS.values(), ids=CAMERAS)
def test_the_interval_of_every_field_holds_what_was_drawn(camera):
    reading = read_dot_sheet(pixels(photographed(**camera)))

    assert reading.paper == camera["paper"]
    assert [field.letter for field in reading.fields] == list("ABCDEF")
    for field, drawn in zip(reading.fields, FRACTIONS, strict=True):
        assert field.low <= drawn <= field.high, field
        assert field.is_covered
        assert field.error == pytest.approx(field.measured_fraction - drawn, abs=4e-6)
    assert reading.covered_count == 6
    assert reading.mean_error < 0.003


@pytest.mark.parametrize("rake", [0.0, 0.25])
def test_without_any_noise_the_blank_field_reads_nothing(rake):
    reading = read_dot_sheet(pixels(photographed("a4", noise=0.0, rake=rake)))

    assert reading.fields[0].printed_fraction == 0
    assert reading.fields[0].measured_fraction == 0
    assert reading.covered_count == 6


@pytest.mark.parametrize("noise", [0, 3], ids=["the drawing itself", "a scan"])
def test_paper_burnt_out_to_white_is_sound_and_its_dots_are_measured(noise):
    ink = printed("a4")[:2100:2, ::2]
    chance = np.random.default_rng(2).standard_normal(ink.shape)
    grey = np.clip(np.round(262 - 230 * ink + noise * chance), 0, 255).astype(np.uint8)

    reading = read_dot_sheet(grey)

    assert [field.is_white for field in reading.fields] == [True, True]
    assert reading.fields[0].measured_fraction == 0
    assert reading.fields[0].is_covered
    assert any("white" in words for words in reading.fields[0].warnings)
    # Every other pixel of the drawing: no rim is truer than half a pixel, 0.06 mm of 0.8.
    assert reading.fields[1].measured_fraction == pytest.approx(FRACTIONS[1], rel=0.16)


def test_large_discs_are_all_found_and_come_out_true_to_size():
    reading = read_dot_sheet(pixels(photographed("a4")))

    assert reading.scale.tilt_deg == pytest.approx(4, abs=1)
    for size in reading.diameters:
        # 0.8 mm are 7 px here; 0.2 mm are 1.8 px, which no photo can show.
        if size.printed_mm >= 0.8:
            assert size.found_count == size.printed_count
            assert size.measured_mm == pytest.approx(size.printed_mm, rel=0.02)
        if size.printed_mm == 0.2:
            assert size.found_count < 0.1 * size.printed_count


def test_fields_cut_off_by_the_edge_of_the_photo_are_named_and_left_out():
    picture = pixels(photographed("a4"))
    upper = picture[: round(0.62 * len(picture))]

    reading = read_dot_sheet(upper)

    assert [field.letter for field in reading.fields] == ["A", "B", "C", "D"]
    assert reading.not_seen == ("E", "F")


def test_a_photo_without_the_sheet_says_what_to_do():
    noise = np.random.default_rng(1).integers(90, 110, (600, 800), dtype=np.uint8)

    with pytest.raises(NoDotSheetError, match="four corner squares"):
        read_dot_sheet(noise)


def test_a_photo_with_markers_and_no_whole_field_says_to_step_back():
    picture = pixels(photographed("a4"))

    with pytest.raises(NoDotSheetError, match="step back"):
        read_dot_sheet(picture[: round(0.2 * len(picture))])
