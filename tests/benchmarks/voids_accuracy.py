"""How far off void measurement is, case by case, and how long it takes.

    python -m tests.benchmarks.voids_accuracy [--salt N] [--megapixels 12]

Prints the error of the void fraction in percentage points on rendered surfaces with known
truth: ours, Otsu's threshold on the picture as it is, and Otsu's after the same flat field.
The other two are told whether voids are dark or bright; ours finds out. Then the time on a
large picture against the floor: decoding it grey, Otsu, connected components. Other
salts give other pictures of the same cases.
"""

import argparse
import time
from collections.abc import Callable
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure import VoidMeasurement, measure_voids
from defectlog.measure.light import flat_field, flatten, linear_light
from tests.pictures import CASES, Picture, render


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--salt", type=int, default=0)
    asked.add_argument("--megapixels", type=float, default=12.0)
    options = asked.parse_args()
    accuracy(options.salt)
    speed(options.megapixels)


def accuracy(salt: int) -> None:
    """One line a case, then the means."""
    print(f"{'case':18} {'true %':>7} {'Otsu':>8} {'flat+Otsu':>10} {'ours':>8}  interval")
    errors, held, widths = [], [], []
    for name, surface in CASES.items():
        picture = render(replace(surface, seed=surface.seed + 1000 * salt))
        bright = surface.contrast < 0
        found = measure_voids(picture.grey, px_per_mm=picture.px_per_mm)
        true = truth(picture, found)
        fractions = (
            otsu_fraction(picture.grey, bright=bright),
            otsu_fraction(flattened(picture), bright=bright),
            found.void_fraction,
        )
        errors.append([100 * (fraction - true) for fraction in fractions])
        held.append(found.void_fraction_low - 5e-5 <= true <= found.void_fraction_high + 5e-5)
        widths.append(100 * (found.void_fraction_high - found.void_fraction_low))
        plain, flat, ours = errors[-1]
        word = "holds it" if held[-1] else "misses it"
        print(f"{name:18} {100 * true:7.2f} {plain:+8.2f} {flat:+10.2f} {ours:+8.3f}  {word}")
    size = np.abs(errors)
    for word, values in (("mean", size.mean(axis=0)), ("worst", size.max(axis=0))):
        print(f"{word:18} {'':7} {values[0]:8.2f} {values[1]:10.2f} {values[2]:8.3f}")
    print(f"95 % interval holds the truth in {np.mean(held):.2f}, mean width {np.mean(widths):.2f}")


def truth(picture: Picture, found: VoidMeasurement) -> float:
    """The fraction of the inspected surface, or of all of it if that is nearer."""
    seen = float(picture.cover[found.inspected_mask].mean(dtype=np.float64))
    return min(seen, picture.fraction, key=lambda true: abs(true - found.void_fraction))


def flattened(picture: Picture) -> NDArray[np.uint8]:
    """The picture in even light, in 8 bits and with a gamma again."""
    linear = linear_light(picture.grey)
    whole = np.ones(picture.grey.shape, bool)
    cell = round(picture.px_per_mm)
    ratio = flatten(linear, flat_field(linear, whole, cell_px=cell, sigma_px=5 * cell))
    return np.clip(ratio ** (1 / 2.2) * 128, 0, 255).astype(np.uint8)


def otsu_fraction(grey: NDArray[np.uint8], *, bright: bool) -> float:
    """The share Otsu's threshold cuts off."""
    at, _ = cv2.threshold(grey, 0, 255, cv2.THRESH_OTSU)
    return float(np.mean(grey > at if bright else grey <= at))


def speed(megapixels: float) -> None:
    """Wall and processor time, best of five, as they are and against the floor."""
    cv2.setNumThreads(2)
    side = np.sqrt(megapixels * 1e6 / 12) / 12
    for name in ("sound", "easy"):
        picture = render(replace(CASES[name], size_mm=(4 * side, 3 * side)))
        coded = cv2.imencode(".jpg", picture.grey, [cv2.IMWRITE_JPEG_QUALITY, 92])[1]
        floor = best(lambda coded=coded: floor_steps(coded))
        ours = best(lambda coded=coded: ours_steps(coded))
        print(
            f"{name}, {picture.grey.size / 1e6:.1f} megapixels, decoding included: "
            f"{ours[0]:.2f} s ({ours[1]:.2f} s of processor), floor {floor[0]:.3f} s "
            f"({floor[1]:.3f}): {ours[0] / floor[0]:.1f} times ({ours[1] / floor[1]:.1f})"
        )


def floor_steps(coded: NDArray[np.uint8]) -> None:
    grey = cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE)
    _, cut = cv2.threshold(grey, 0, 255, cv2.THRESH_OTSU | cv2.THRESH_BINARY_INV)
    cv2.connectedComponentsWithStats(cut)


def ours_steps(coded: NDArray[np.uint8]) -> None:
    measure_voids(cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE), px_per_mm=12.0)


def best(steps: Callable[[], None]) -> tuple[float, float]:
    wall, processor = [], []
    for _ in range(5):
        began, used = time.perf_counter(), time.process_time()
        steps()
        wall.append(time.perf_counter() - began)
        processor.append(time.process_time() - used)
    return min(wall), min(processor)


if __name__ == "__main__":
    main()
