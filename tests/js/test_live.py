"""The figure under the finger against the figure of record, by the page's own script in node."""

import json
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from defectlog.bench.live import packed
from defectlog.measure import measure_voids
from defectlog.measure.lengths.scale import Scale, given_scale
from defectlog.measure.live_picture import live_picture
from tests.pictures import CASES, render

SCRIPT = Path(__file__).parent / "room" / "live-figures.js"
TRIED = (0.08, 0.15, 0.2, 0.3, 0.4, 0.5, 0.65)
AGREED = 0.001  # a tenth of a percentage point


def tilted(px_per_mm: float) -> Scale:
    """A scale that changes by a tenth over the picture, as under a tilted camera."""
    flat = np.diag([1 / px_per_mm, 1 / px_per_mm, 1.0])
    flat[2] = [6e-5, 3e-5, 1.0]
    rows = tuple(tuple(row) for row in flat.tolist())
    return Scale("card", px_per_mm=px_per_mm, homography=rows)


def figures(file: Path, message: bytes) -> dict[str, list[float]]:
    node = shutil.which("node")
    if node is None:
        pytest.skip("node is not installed")
    file.write_bytes(message)
    run = subprocess.run([node, str(SCRIPT), str(file)], capture_output=True, text=True, check=True)
    return json.loads(run.stdout)


@pytest.mark.parametrize(
    ("name", "asked"),
    [
        ("dark on carbon", {}),
        ("bright on carbon", {"look": "bright", "leave_out": [((9, 9), (400, 9), (9, 300))]}),
        ("pinholes, mixed", {"smallest_mm": 0.5}),
        ("grainy", {}),
        ("tilted 15°", {"tilt": True}),
    ],
)
@pytest.mark.parametrize("most_px", [8_000_000, 500_000], ids=["full size", "reduced"])
def test_the_live_figure_is_that_of_record_within_a_tenth_of_a_point(
    tmp_path, name, asked, most_px
):
    picture = render(CASES[name])
    asked = dict(asked)
    scale = (tilted if asked.pop("tilt", False) else given_scale)(picture.px_per_mm)
    live = live_picture(picture.grey, scale=scale, most_px=most_px, **asked)
    shown = figures(tmp_path / "message", packed(live))

    for threshold in TRIED:
        kept = measure_voids(picture.grey, scale=scale, threshold=threshold, **asked)
        step = round(200 * threshold)
        assert shown["share"][step] == pytest.approx(kept.void_fraction, abs=AGREED), threshold
        if not live.is_reduced and scale.homography is None:
            assert shown["count"][step] == kept.count
            assert shown["share"][step] == pytest.approx(kept.void_fraction, abs=1e-9)
    assert live.is_reduced == (most_px < live.box[2] * live.box[3])
