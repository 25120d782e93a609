"""Good photos with something broken in them, at the intake gate: refused or taken, never worse.

    python -m tests.faults.mutations --seconds 600

Flipped bits, cuts, doubled and moved pieces, changed sizes in the header. What is counted: taken,
refused by name, anything else (a crash, a hang beyond the patience, an error of ours).
"""

import argparse
import io
import random
import tempfile
import time
from collections import Counter
from pathlib import Path

import numpy as np
from PIL import Image

from defectlog.photos.decoding import decode
from defectlog.photos.originals import Originals
from defectlog.photos.refusals import PhotoRefusedError

MOST_SECONDS_EACH = 15
_HEIC = Path(__file__).parent.parent / "photos" / "upright.heic"


def good_files() -> dict[str, bytes]:
    """One of each format that is read in this very process, and a HEIC."""
    grey = np.random.default_rng(3).integers(0, 255, (60, 80, 3), dtype=np.uint8)
    files = {}
    for name, form in (("jpeg", "JPEG"), ("png", "PNG"), ("webp", "WEBP"), ("tiff", "TIFF")):
        out = io.BytesIO()
        Image.fromarray(grey).save(out, form)
        files[name] = out.getvalue()
    files["heic"] = _HEIC.read_bytes()
    return files


def broken(data: bytes, chance: random.Random) -> bytes:
    """The file with one to four things wrong with it."""
    for _ in range(chance.randint(1, 4)):
        at = chance.randrange(len(data)) if data else 0
        how = chance.randrange(6)
        if how == 0:
            data = data[:at] + bytes([data[at] ^ (1 << chance.randrange(8))]) + data[at + 1 :]
        elif how == 1:
            data = data[: max(at, 1)]
        elif how == 2:
            piece = data[at : at + chance.randrange(1, 200)]
            to = chance.randrange(len(data))
            data = data[:to] + piece + data[to:]
        elif how == 3:
            data = data[:at] + chance.randbytes(chance.randrange(1, 16)) + data[at + 8 :]
        elif how == 4:
            # In the header, where sizes and offsets stand.
            at = chance.randrange(min(len(data), 64))
            data = data[:at] + b"\xff" * chance.randrange(1, 5) + data[at + 4 :]
        else:
            data = data[:at] + data[at + chance.randrange(1, 40) :]
        data = data or b"\xff"
    return data


def run(seconds: float, *, seed: int = 1, with_apart: bool = True) -> Counter[str]:
    """Break files for so long; counts by format and what came of it."""
    chance, counts = random.Random(seed), Counter[str]()
    files = good_files()
    if not with_apart:
        # These are read in a process of their own, which takes a moment to start.
        del files["heic"], files["tiff"]
    until = time.monotonic() + seconds
    with tempfile.TemporaryDirectory() as folder:
        gate = Originals(Path(folder), max_bytes=2**20)
        while time.monotonic() < until:
            name = chance.choice(sorted(files))
            data = broken(files[name], chance)
            begun = time.monotonic()
            try:
                with gate.receive(io.BytesIO(data)) as incoming, incoming.path.open("rb") as file:
                    decode(file, max_px=4_000_000)
                counts["taken"] += 1
            except PhotoRefusedError as error:
                counts[f"refused as {error.reason}"] += 1
            except Exception as error:  # counted: it is what is looked for
                counts[f"FAULT {name}: {type(error).__name__} {error}"] += 1
            if time.monotonic() - begun > MOST_SECONDS_EACH:
                counts[f"FAULT {name}: over {MOST_SECONDS_EACH} s"] += 1
        counts["left behind"] = sum(1 for f in Path(folder).rglob("*") if f.is_file())
    return counts


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seconds", type=float, default=600)
    asked.add_argument("--seed", type=int, default=1)
    said = asked.parse_args()
    counts = run(said.seconds, seed=said.seed)
    print(f"{said.seconds:.0f} s:", ", ".join(f"{count} {name}" for name, count in counts.items()))


if __name__ == "__main__":
    main()
