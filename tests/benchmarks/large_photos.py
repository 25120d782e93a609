"""How much memory the largest photos take: taken in, and then measured.

    python -m tests.benchmarks.large_photos [--megapixels 12 64 200] [--formats jpeg png]

Each photo goes through the app in a process of its own, whose peak is what is told, with what the
app holds before it. The pictures are of blocks of noise, and lie on their side for the camera, so
that they have to be turned. 200 megapixels take some minutes and 4 GB to make.
"""

import argparse
import os
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from PIL import Image

from tests.faults.busy_hour import Hand
from tests.workshops import make_workshop

FORMATS = ("jpeg", "progressive", "png")
MOST = {"DEFECTLOG_MEGAPIXELS": "200", "DEFECTLOG_PHOTO_MIB": "256"}
_TURNED = {0x0112: 6}


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--megapixels", type=float, nargs="+", default=[12.0, 64.0, 200.0])
    asked.add_argument("--formats", nargs="+", choices=FORMATS, default=FORMATS)
    asked.add_argument("--take", type=Path, help="take this one in, and say the peak")
    options = asked.parse_args()
    if options.take:
        take(options.take)
        return
    with tempfile.TemporaryDirectory() as folder:
        for megapixels in options.megapixels:
            for kind in options.formats:
                file = Path(folder) / f"{megapixels:g}-megapixels.{kind}"
                draw(file, megapixels, kind)
                command = [sys.executable, "-m", __spec__.name, "--take", str(file)]
                subprocess.run(command, check=True, env=os.environ | MOST)
                file.unlink()


def draw(file: Path, megapixels: float, kind: str) -> None:
    """A picture of so many megapixels, blocks of 8 x 8 pixels in all shades."""
    Image.MAX_IMAGE_PIXELS = None
    width = round((megapixels * 1e6 * 4 / 3) ** 0.5)
    height = int(megapixels * 1e6 / width)
    rng = np.random.default_rng(1)
    blocks = rng.integers(60, 190, (height // 8 + 1, width // 8 + 1, 3), dtype=np.uint8)
    picture = Image.fromarray(blocks).resize((width, height), Image.Resampling.NEAREST)
    exif = Image.Exif()
    exif.update(_TURNED)
    if kind == "png":
        picture.save(file, "PNG", exif=exif, compress_level=1)
    else:
        picture.save(file, "JPEG", exif=exif, quality=88, progressive=kind == "progressive")


def take(file: Path) -> None:
    with tempfile.TemporaryDirectory() as folder:
        make_workshop(Path(folder) / "workshop", photos=1).records.close()
        hand = Hand(Path(folder) / "workshop")
        before = peak_gb()
        begun = time.monotonic()
        with file.open("rb") as source:
            sent = {"photos": (source, "photo")}
            answer = hand.send("/builds/1/photos", data=sent)
        taken, took_s = peak_gb(), time.monotonic() - begun
        hand.send(f"{answer.json['url']}/measurements", json={"region": None})
    print(
        f"{file.name}, {file.stat().st_size / 2**20:.0f} MiB: {before:.1f} GB before, "
        f"{taken:.1f} taken in ({took_s:.0f} s), {peak_gb():.1f} measured"
    )


def peak_gb() -> float:
    """The most this process has held. Linux alone tells it without what its parent held."""
    status = Path("/proc/self/status").read_text("ascii")
    return int(re.search(r"VmHWM:\s+(\d+)", status)[1]) * 1024 / 1e9


if __name__ == "__main__":
    main()
