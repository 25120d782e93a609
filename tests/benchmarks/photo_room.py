"""How quick the photo room is: from upload to picture, tiles, and a gallery of many photos.

    python -m tests.benchmarks.photo_room [--rounds 3] [--builds 1000] [--folder FOLDER]

Photos of 12 and 48 megapixels are sent to a real server on a workshop of its own and opened in
Chromium, and the time until the first pixels of the room are on the screen is told. Floors are
measured in the same run: decoding and encoding the same photo once, a page of the same server
that shows nothing, and a picture the server sends from a file. The gallery is that of
``large_shop`` (ten photos a build; kept in FOLDER and used again).
"""

import argparse
import io
import statistics
import tempfile
import time
import urllib.request
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
from flask import Flask
from PIL import Image
from playwright.sync_api import Browser, sync_playwright

from defectlog.bench.builds import start_build
from defectlog.bench.intake import take_in
from defectlog.bench.parts import PartPlan, save_part
from defectlog.photos.tiles import Tiles
from defectlog.records import Face, PhotoStage
from defectlog.web import create_app
from defectlog.web.records import store, transaction
from tests.benchmarks.large_shop import write_large_shop
from tests.browser.conftest import FLAGS, system_chromium
from tests.browser.room import DESK, PHONE
from tests.serving import serving

SIZES = {12: (4000, 3000), 48: (8000, 6000)}
# How much closer one press of a button comes, and how often that is pressed.
PRESSES = 9


def photograph(size: tuple[int, int], seed: int) -> bytes:
    """Soft noise with a grain, about as hard to compress as a photo of cloth."""
    chance = np.random.default_rng(seed)
    small = Image.fromarray(chance.integers(70, 180, (size[1] // 8, size[0] // 8), dtype=np.uint8))
    picture = np.asarray(small.resize(size, Image.Resampling.BILINEAR)).astype(np.int16)
    picture += chance.integers(-6, 7, picture.shape, dtype=np.int16)
    grey = Image.fromarray(np.clip(picture, 0, 255).astype(np.uint8))
    file = io.BytesIO()
    grey.convert("RGB").save(file, "JPEG", quality=90)
    return file.getvalue()


def median_ms(work: Callable[[], object], rounds: int) -> float:
    times = []
    for _ in range(rounds):
        began = time.perf_counter()
        work()
        times.append(1000 * (time.perf_counter() - began))
    return statistics.median(times)


def decode_and_encode(data: bytes) -> None:
    with Image.open(io.BytesIO(data)) as picture:
        picture.save(io.BytesIO(), "JPEG", quality=90)


def got(address: str) -> bytes:
    with urllib.request.urlopen(address) as answer:
        return answer.read()


def new_build(app: Flask) -> int:
    with app.app_context(), transaction() as session:
        part = save_part(session, PartPlan(f"Panel {time.monotonic_ns()}"))
        return start_build(session, part.id, datetime.now(UTC)).id


def taken_in(app: Flask, build: int, data: bytes) -> tuple[int, str]:
    """The number of a photo that came in, and its hash."""
    with app.app_context(), transaction() as session:
        photo = take_in(
            session,
            store(),
            build,
            data,
            name="panel.jpg",
            face=Face.TOOL,
            stage=PhotoStage.DEMOULD,
            at=datetime.now(UTC),
        ).photo
        return photo.id, photo.sha256


LARGEST_PAINT = """new Promise((tell) => new PerformanceObserver((list) => {
  const pictures = list.getEntries().filter(({ element }) => element?.id === "first-picture");
  tell(pictures.at(-1)?.renderTime ?? NaN);
}).observe({ type: "largest-contentful-paint", buffered: true }))"""


def first_pixels_ms(browser: Browser, address: str, device: dict[str, Any]) -> tuple[float, float]:
    """From the start of loading to the photo as large as the screen, and to one to be zoomed."""
    context = browser.new_context(**device)
    page = context.new_page()
    page.goto(address)
    page.wait_for_selector("#first-picture", state="hidden")
    pixels = page.evaluate("performance.getEntriesByName('room:pixels')[0].startTime")
    picture = page.evaluate(LARGEST_PAINT)
    context.close()
    return float(picture), float(pixels)


def upload_to_visible(app: Flask, browser: Browser, address: str, rounds: int) -> None:
    for megapixels, size in SIZES.items():
        photos = [photograph(size, megapixels + i) for i in range(rounds + 1)]
        floor = median_ms(lambda data=photos[0]: decode_and_encode(data), rounds)
        waiting = iter(photos)

        def upload(waiting: Iterator[bytes] = waiting) -> None:
            number, _ = taken_in(app, new_build(app), next(waiting))
            got(f"{address}/photos/{number}/image/view.jpg")

        upload()  # warms up
        ready = median_ms(upload, rounds)
        print(
            f"{megapixels} megapixels: taken in and its copy fetched in {ready:.0f} ms, "
            f"{ready / floor:.2f} of decoding and encoding it once ({floor:.0f} ms)"
        )


def tiles(app: Flask, address: str, rounds: int) -> None:
    data = photograph(SIZES[48], 99)
    floor = median_ms(lambda: decode_and_encode(data), rounds)
    number, sha256 = taken_in(app, new_build(app), data)
    kept = app.extensions["defectlog"][1]

    def cut() -> None:
        kept.tiles_path(sha256).unlink(missing_ok=True)
        Tiles(kept).prepare(sha256).result()

    took = median_ms(cut, rounds)
    print(
        f"tiles of 48 megapixels: cut in {took:.0f} ms, {took / floor:.2f} of decoding and "
        f"encoding it once; {kept.tiles_path(sha256).stat().st_size / 1e6:.1f} MB beside a photo "
        f"of {len(data) / 1e6:.1f} MB"
    )
    tile = f"{address}/photos/{number}/tiles/0/8-6.jpg"
    copy = f"{address}/photos/{number}/image/thumb.jpg"
    got(tile), got(copy)
    served, floor = (median_ms(lambda at=at: got(at), 10 * rounds) for at in (tile, copy))
    print(f"one tile served in {served:.1f} ms, {served / floor:.2f} of a small copy's file")


def coming_close(app: Flask, browser: Browser, address: str) -> None:
    number, _ = taken_in(app, new_build(app), photograph(SIZES[48], 98))
    for name, device in (("phone", PHONE | {"device_scale_factor": 3}), ("desk", DESK)):
        first_pixels_ms(browser, f"{address}/photos/{number}", device)  # warms up
        picture, pixels = first_pixels_ms(browser, f"{address}/photos/{number}", device)
        context = browser.new_context(**device)
        page = context.new_page()
        page.goto(f"{address}/photos/{number}")
        page.wait_for_selector("#first-picture", state="hidden")
        seen: list[str] = []
        page.on("response", lambda r, seen=seen: "/tiles/" in r.url and seen.append(r.url))
        for _ in range(PRESSES):
            page.locator("#zoom-in").click()
        page.wait_for_timeout(8000)
        context.close()
        across = [device["viewport"][side] for side in ("width", "height")]
        whole = across[0] * across[1] * device.get("device_scale_factor", 1) ** 2
        share = len(set(seen)) * 512 * 512 / whole
        print(
            f"{name}: 48 megapixels seen after {picture:.0f} ms, to be zoomed after "
            f"{pixels:.0f} ms; close up {len(set(seen))} tiles, {share:.1f} screens of full pixels"
        )


def gallery(folder: Path, builds: int, rounds: int) -> None:
    size = write_large_shop(folder, builds)
    app = create_app(folder)
    client = app.test_client()
    empty = create_app(Path(tempfile.mkdtemp())).test_client()
    for asked in ("", "?kind=dry-spot", "?part=5&face=tool side", "?since=2017-01-01"):
        client.get(f"/photos/{asked}")
        took = median_ms(lambda at=asked: client.get(f"/photos/{at}").data, 5 * rounds)
        floor = median_ms(lambda: empty.get("/photos/").data, 5 * rounds)
        print(
            f"gallery{asked or ' (all)'} of {size.photos} photos: {took:.0f} ms, "
            f"{took / floor:.1f} of an empty one ({floor:.0f} ms)"
        )
    app.extensions["defectlog"][0].close()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--builds", type=int, default=1000)
    parser.add_argument("--folder", type=Path)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        app = create_app(Path(folder))
        with serving(app) as address, sync_playwright() as driver:
            browser = driver.chromium.launch(executable_path=system_chromium(), args=list(FLAGS))
            upload_to_visible(app, browser, address, asked.rounds)
            tiles(app, address, asked.rounds)
            coming_close(app, browser, address)
            browser.close()
        app.extensions["defectlog"][0].close()
    folder = asked.folder or Path(tempfile.gettempdir()) / f"large-shop-{asked.builds}"
    gallery(folder, asked.builds, asked.rounds)


if __name__ == "__main__":
    main()
