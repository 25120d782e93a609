"""How far off void measurement is, case by case, and how long it takes.

    python -m tests.benchmarks.voids_accuracy [--salt N] [--megapixels 12]
                                              [--renderer first|second|third|both|all]

One line a case: the error of the void fraction in percentage points, the interval, voids of 3
pixels and more found by place, finds that are true, and how far diameters are off on the
whole. Then a line for each bar, and the time on large pictures against the floor:
decoding grey, Otsu's threshold, connected components, in the same run. ``--otsu`` adds
what Otsu's threshold would have said, as it is and after the same flat field. Thresholds
were chosen on the first renderer; the second is for the report alone, and the third was
drawn to find what those two (``both``) hide. Other salts give other pictures of the same
cases.
"""

import argparse
import resource
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure import VoidMeasurement, measure_voids
from defectlog.measure.arrays.light import flat_field, flatten, linear_light
from tests.benchmarks import second_renderer, third_renderer, third_scenes
from tests.pictures import CASES, Picture, render

SEEN_PX = 3.0
RENDERERS = {
    "first": ("first",),
    "second": ("second",),
    "third": ("third",),
    "both": ("first", "second"),
    "all": ("first", "second", "third"),
}


@dataclass(frozen=True, slots=True)
class Line:
    """What came of one case; fractions in percentage points."""

    name: str
    true: float
    error: float
    low: float
    high: float
    recall: float
    precision: float
    small: tuple[float, ...]  # diameters over the true ones, 3 to 8 px
    large: tuple[float, ...]  # and above

    @property
    def holds(self) -> bool:
        return self.low - 0.005 <= self.true <= self.high + 0.005


def drawn(renderer: str, salt: int, name: str) -> Picture:
    """One picture of a renderer, by its name."""
    (draw,) = (draw for one, draw in pictures(renderer, salt) if one == name)
    return draw()


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--salt", type=int, default=0)
    asked.add_argument("--renderer", choices=RENDERERS, default="both")
    asked.add_argument("--megapixels", type=float, default=12.0)
    asked.add_argument("--only", default="", help="cases whose name holds this")
    asked.add_argument("--otsu", action="store_true")
    asked.add_argument("--no-speed", action="store_true")
    options = asked.parse_args()
    for name in RENDERERS[options.renderer]:
        print(f"\n{name} renderer, salt {options.salt}")
        shown = (pair for pair in pictures(name, options.salt) if options.only in pair[0])
        lines = [accuracy(*pair, otsu=options.otsu) for pair in shown]
        if lines:
            summary(lines)
    if not options.no_speed:
        speed(options.megapixels)


def pictures(renderer: str, salt: int) -> Iterator[tuple[str, Callable[[], Picture]]]:
    """The cases of a renderer, each to be drawn when it is wanted."""
    if renderer == "first":
        for name, surface in CASES.items():
            salted = replace(surface, seed=surface.seed + 1000 * salt)
            yield name, lambda salted=salted: render(salted)
    elif renderer == "second":
        for seed, (name, spec) in enumerate(second_renderer.SPECS.items()):
            salted = replace(spec, seed=seed + 1000 * salt, surface_seed=seed + 1000 * salt)
            yield name, lambda salted=salted: second_renderer.picture(salted)
    else:
        for seed, (name, scene) in enumerate(third_scenes.SCENES.items()):
            drawn = replace(scene, seed=seed + 1000 * salt)
            yield name, lambda drawn=drawn: third_renderer.picture(drawn)


def accuracy(name: str, draw: Callable[[], Picture], *, otsu: bool) -> Line:
    """Measure one case and print its line."""
    picture = draw()
    found = measure_voids(picture.grey, px_per_mm=picture.px_per_mm)
    true = truth(picture, found)
    small, large = diameters(picture, found)
    line = Line(
        name=name,
        true=100 * true,
        error=100 * (found.void_fraction - true),
        low=100 * found.void_fraction_low,
        high=100 * found.void_fraction_high,
        recall=recall(picture, found),
        precision=precision(picture, found),
        small=small,
        large=large,
    )
    words = f"{name:23} {line.true:6.2f} {line.error:+7.3f}  {line.low:5.2f}–{line.high:5.2f}"
    words += f" {' ' if line.holds else '!'}  {line.recall:5.3f} {line.precision:5.3f}"
    for ratios in (small, large):
        words += f" {100 * (np.mean(ratios) - 1):+5.1f} %" if len(ratios) > 5 else "       -"
    words += f"  {found.look or '-'}"
    if otsu:
        words += "".join(
            f" {100 * (share - true):+7.2f}" for share in otsu_fractions(picture, found)
        )
    print(words, flush=True)
    return line


def summary(lines: list[Line]) -> None:
    """One line a bar: what is asked, and what was reached."""
    errors = {line.name: abs(line.error) for line in lines}
    sound = {line.name: line.error for line in lines if line.true == 0}
    rest = {name: error for name, error in errors.items() if "glare" not in name}
    worst = max(rest, key=rest.get, default=None)
    print(f"mean error {np.mean(list(errors.values())):.3f} (bar 0.08)")
    if worst is not None:
        print(f"worst {rest[worst]:.3f}, {worst} (bar 0.25)")
    glare = [error for name, error in errors.items() if "glare" in name]
    print(f"worst with glare {max(glare, default=0):.3f} (bar 0.6 on carbon)")
    plain = [error for name, error in sound.items() if "tracer" not in name]
    yarns = [error for name, error in sound.items() if "tracer" in name]
    print(
        f"void-free {max(plain, default=0):.3f} (0.02), tracer {max(yarns, default=0):.3f} (0.05)"
    )
    for word, bar in (("recall", 0.97), ("precision", 0.95)):
        values = [getattr(line, word) for line in lines if line.true > 0] or [1.0]
        print(f"{word} {np.mean(values):.3f}, worst {min(values):.3f} (bar {bar})")
    for word, bar in (("small", 6), ("large", 2)):
        pooled = [ratio for line in lines for ratio in getattr(line, word)]
        each = [np.mean(getattr(line, word)) for line in lines if len(getattr(line, word)) > 20]
        if each:
            off = max((100 * (mean - 1) for mean in each), key=abs)
            print(
                f"{word}: {100 * (np.mean(pooled) - 1):+.1f} %, worst case {off:+.1f} (bar {bar})"
            )
    held = np.mean([line.holds for line in lines])
    width = np.mean([line.high - line.low for line in lines])
    print(f"interval holds the truth in {100 * held:.0f} %, mean width {width:.2f} (93–99, 0.6)")


def truth(picture: Picture, found: VoidMeasurement) -> float:
    """The fraction of the inspected surface, or of all of it if that is nearer."""
    seen = float(picture.cover[found.inspected_mask].mean(dtype=np.float64))
    return min(seen, picture.fraction, key=lambda true: abs(true - found.void_fraction))


def recall(picture: Picture, found: VoidMeasurement) -> float:
    """The share of voids of 3 px and more, on inspected surface, that were found by place."""
    hit = []
    for void in picture.voids:
        x, y = round(void.x), round(void.y)
        if void.diameter >= SEEN_PX and found.inspected_mask[y, x]:
            around = found.voids_mask[max(0, y - 1) : y + 2, max(0, x - 1) : x + 2]
            hit.append(bool(around.any()))
    return float(np.mean(hit)) if hit else 1.0


def precision(picture: Picture, found: VoidMeasurement) -> float:
    """The share of finds that lie on a void."""
    near = cv2.dilate(picture.cover, np.ones((3, 3), np.uint8))
    real = [near[round(void.y), round(void.x)] > 0 for void in found.voids]
    return float(np.mean(real)) if real else 1.0


def diameters(
    picture: Picture, found: VoidMeasurement
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Diameters found over true ones, for voids of 3 to 8 px and above."""
    if not found.voids or not picture.voids:
        return (), ()
    mine = np.array([(void.x, void.y) for void in found.voids])
    small, large = [], []
    for void in picture.voids:
        gaps = np.hypot(mine[:, 0] - void.x, mine[:, 1] - void.y)
        k = int(gaps.argmin())
        if void.diameter >= SEEN_PX and gaps[k] < max(1.5, 0.2 * void.diameter):
            ratio = found.voids[k].d_px / void.diameter
            (small if void.diameter < 8 else large).append(ratio)
    return tuple(small), tuple(large)


def otsu_fractions(picture: Picture, found: VoidMeasurement) -> tuple[float, float]:
    """The share Otsu's threshold cuts off, of the picture and of it in even light."""
    bright = found.look == "bright"
    linear = linear_light(picture.grey)
    cell = round(picture.px_per_mm)
    field = flat_field(linear, np.ones(linear.shape, bool), cell_px=cell, sigma_px=5 * cell)
    even = np.clip(flatten(linear, field) ** (1 / 2.2) * 128, 0, 255).astype(np.uint8)
    shares = []
    for grey in (picture.grey, even):
        at, _ = cv2.threshold(grey, 0, 255, cv2.THRESH_OTSU)
        shares.append(float(np.mean(grey > at if bright else grey <= at)))
    return shares[0], shares[1]


def speed(megapixels: float) -> None:
    """Wall and processor time, best of seven, as they are and against the floor."""
    cv2.setNumThreads(2)
    side = np.sqrt(megapixels * 1e6 / 12) / 12
    print()
    for name in ("sound", "pinholes", "easy", "dense"):
        picture = render(replace(CASES[name], size_mm=(4 * side, 3 * side)))
        coded = cv2.imencode(".jpg", picture.grey, [cv2.IMWRITE_JPEG_QUALITY, 92])[1]
        floor, ours = best(lambda c=coded: floor_steps(c)), best(lambda c=coded: ours_steps(c))
        print(
            f"{name}, {megapixels} megapixels, decoding included: {ours[0]:.2f} s "
            f"({ours[1]:.2f} s of processor), floor {floor[0]:.3f} s ({floor[1]:.3f}): "
            f"{ours[0] / floor[0]:.1f} times ({ours[1] / floor[1]:.1f})"
        )


def floor_steps(coded: NDArray[np.uint8]) -> None:
    grey = cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE)
    _, cut = cv2.threshold(grey, 0, 255, cv2.THRESH_OTSU | cv2.THRESH_BINARY_INV)
    cv2.connectedComponentsWithStats(cut)


def ours_steps(coded: NDArray[np.uint8]) -> None:
    measure_voids(cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE), px_per_mm=12.0)


def best(steps: Callable[[], None]) -> tuple[float, float]:
    wall, processor = [], []
    for _ in range(7):
        began, used = time.perf_counter(), processor_time()
        steps()
        wall.append(time.perf_counter() - began)
        processor.append(processor_time() - used)
    return min(wall), min(processor)


def processor_time() -> float:
    spent = resource.getrusage(resource.RUSAGE_SELF)
    return spent.ru_utime + spent.ru_stime


if __name__ == "__main__":
    main()
