"""Frames a second of the live threshold: ``python -m tests.benchmarks.live_threshold``.

A real Chromium, without a graphics processor, moves the slider on every frame it is given; what is
counted are the frames it manages. The floor is the same page, moving a slider that does nothing.
"""

import io
import sys
import tempfile
from pathlib import Path

import numpy as np
from flask import Flask
from PIL import Image
from playwright.sync_api import Page, sync_playwright

from defectlog.web import create_app
from defectlog.web.records import transaction
from tests.browser.conftest import FLAGS, system_chromium
from tests.builders import make_part
from tests.pictures import CASES, render
from tests.serving import serving
from tests.taken_in import photo_taken_in

SIZES = {"2 MP": (1632, 1224), "8 MP": (3264, 2448)}
FRAMES = 90

# Each frame moves the slider by a step and waits for the next: as fast as the page can follow.
MOVE = """async ({id, frames}) => {
  const slider = document.getElementById(id);
  const frame = () => new Promise(requestAnimationFrame);
  await frame();
  const began = performance.now();
  for (let i = 0; i < frames; i += 1) {
    slider.value = Number(slider.min) + (i % 60) * Number(slider.step);
    slider.dispatchEvent(new Event("input"));
    await frame();
  }
  return frames / ((performance.now() - began) / 1000);
}"""
IDLE = """() => {
  const slider = document.createElement("input");
  Object.assign(slider, {type: "range", id: "idle", min: 5, max: 95, step: 0.5});
  document.getElementById("live").append(slider);
}"""


def photo(app: Flask, part_id: int, size: tuple[int, int]) -> int:
    """A photo of carbon cloth with voids at that size."""
    tile = render(CASES["dark on carbon"]).grey
    times = tuple(-(-want // have) for want, have in zip(size[::-1], tile.shape, strict=True))
    jpeg = io.BytesIO()
    Image.fromarray(np.tile(tile, times)[: size[1], : size[0]]).save(jpeg, "JPEG", quality=92)
    return photo_taken_in(app, jpeg.getvalue(), part_id=part_id)


def frames_a_second(page: Page, url: str) -> tuple[float, float, float, float]:
    """With the threshold, with an idle slider; seconds until it can be moved; megapixels drawn."""
    page.goto(url)
    page.wait_for_selector("#room.is-ready")
    began = page.evaluate("performance.now()")
    page.locator("#live-open").click()
    page.wait_for_selector("#live-threshold:enabled", timeout=60_000)
    ready = (page.evaluate("performance.now()") - began) / 1000
    width, height = page.evaluate(
        "['width', 'height'].map((side) => document.querySelector('.live-canvas')[side])"
    )
    drawn = width * height / 1e6
    live = page.evaluate(MOVE, {"id": "live-threshold", "frames": FRAMES})
    page.evaluate(IDLE)
    return live, page.evaluate(MOVE, {"id": "idle", "frames": FRAMES}), ready, drawn


def main() -> None:
    slowed = [float(word) for word in sys.argv[1:]] or [1.0, 4.0]
    app = create_app(Path(tempfile.mkdtemp()))
    with app.app_context(), transaction() as session:
        part_id = make_part(session).id
    photos = {name: photo(app, part_id, size) for name, size in SIZES.items()}
    print("picture   processor   threshold   idle slider   until it can be moved   drawn")
    with serving(app) as address, sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=system_chromium(), args=list(FLAGS))
        for name, number in photos.items():
            for slower in slowed:
                page = browser.new_page(viewport={"width": 1440, "height": 900})
                cdp = page.context.new_cdp_session(page)
                cdp.send("Emulation.setCPUThrottlingRate", {"rate": slower})
                live, idle, ready, drawn = frames_a_second(page, f"{address}/photos/{number}")
                speeds = f"{live:5.0f} /s{idle:10.0f} /s{ready:12.1f} s"
                print(f"{name:<10}1/{slower:<10g}{speeds}{drawn:16.1f} MP")
                page.close()
        browser.close()


if __name__ == "__main__":
    main()
