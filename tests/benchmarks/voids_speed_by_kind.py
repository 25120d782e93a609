"""How long measuring takes on each kind of picture that is drawn, 12 megapixels of it.

    python -m tests.benchmarks.voids_speed_by_kind [--only words] [--megapixels 12] [--rounds 5]
                                                   [--renderer first|second]

One line a kind: the floor of ``voids_speed`` and the time of ours in the same run, the best of the
rounds each, in wall and in processor time. A mean over kinds says little: what a surface is like
decides which steps it takes, and some take three times as long as others.
"""

import argparse
from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import cv2
import numpy as np

from defectlog.demo.spec import PhotoSpec, Pinholes
from defectlog.measure import measure_voids
from tests.benchmarks import second_renderer
from tests.benchmarks.voids_accuracy import floor_steps
from tests.benchmarks.voids_speed import Coded, best_in_turn
from tests.pictures import CASES, Surface, render

BAR = 5.0
QUALITY = [cv2.IMWRITE_JPEG_QUALITY, 92]
STEP_PX = 12  # the second renderer's pictures are whole steps wide and high


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--renderer", choices=["first", "second"], default="second")
    asked.add_argument("--only", default="", help="kinds whose name holds this")
    asked.add_argument("--megapixels", type=float, default=12.0)
    asked.add_argument("--rounds", type=int, default=5)
    options = asked.parse_args()
    cv2.setNumThreads(2)
    kinds = of_first if options.renderer == "first" else of_second
    slow = []
    for name, px_per_mm, coded in kinds(options.megapixels, options.only):
        ways = [partial(floor_steps, coded), partial(decoded_and_measured, coded, px_per_mm)]
        floor, ours = best_in_turn(ways, options.rounds)
        times = ours[0] / floor[0]
        slow += [name] if times > BAR else []
        print(
            f"{name:24} floor {1000 * floor[0]:4.0f} ms, ours {1000 * ours[0]:4.0f} "
            f"({1000 * ours[1]:4.0f} of processor): {times:4.1f} times",
            flush=True,
        )
    print(f"over {BAR:g} times: {', '.join(slow) or 'none'}")


def of_first(megapixels: float, only: str) -> Iterator[tuple[str, float, Coded]]:
    """Kinds of the first renderer, with the scale of each."""
    for name, surface in CASES.items():
        if only in name:
            yield name, surface.px_per_mm, encoded(render(wide(surface, megapixels)).grey)
            render.cache_clear()


def wide(surface: Surface, megapixels: float) -> Surface:
    """So much of a surface that it fills as many pixels."""
    side = np.sqrt(megapixels * 1e6 / 12) / surface.px_per_mm
    return replace(surface, size_mm=(4 * side, 3 * side))


def of_second(megapixels: float, only: str) -> Iterator[tuple[str, float, Coded]]:
    """Kinds of the second renderer, with the scale of each."""
    side = np.sqrt(megapixels * 1e6 / 12)
    size = tuple(STEP_PX * round(sides * side / STEP_PX) for sides in (4, 3))
    for name, spec in second_renderer.SPECS.items():
        if only in name:
            grey = second_renderer.picture(large(spec, size)).grey
            yield name, spec.camera.px_per_mm, encoded(grey)


def large(spec: PhotoSpec, size: tuple[int, int]) -> PhotoSpec:
    """A photo of so many pixels, wholly filled by the face, with as many pits on each of them."""
    camera = replace(spec.camera, width_px=size[0], height_px=size[1])
    reach = 0.8 * size[0] / camera.px_per_mm
    more = (size[0] / spec.camera.width_px) ** 2
    return replace(
        spec,
        outline_mm=((-reach, -reach), (reach, -reach), (reach, reach), (-reach, reach)),
        camera=camera,
        defects=tuple(
            replace(one, count=round(one.count * more)) if isinstance(one, Pinholes) else one
            for one in spec.defects
        ),
    )


def encoded(grey: np.ndarray) -> Coded:
    return cv2.imencode(".jpg", grey, QUALITY)[1]


def decoded_and_measured(coded: Coded, px_per_mm: float) -> None:
    measure_voids(cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE), px_per_mm=px_per_mm)


if __name__ == "__main__":
    main()
