"""How long measuring voids takes: against the floor, and against the same steps in scikit-image.

    python -m tests.benchmarks.voids_speed [--megapixels 12 48] [--cases sound easy dense]
                                           [--no-skimage] [--rounds 5]

The floor is what any measuring by threshold takes: decoding the JPEG to grey, Otsu's
threshold, connected components. All are timed in the same run, each in turn and the best
of the rounds kept, in wall time and in processor time of both cores; where others use the
machine, the ratios of processor time are the ones to believe. Peak memory is that of a
process of its own, less what the same process holds before it measures. Start-up is the
time of the command ``defectlog measure`` beside the seconds it says it measured.

The steps in scikit-image are ours put into its words and SciPy's: linear light, a flat field
at a millimetre a pixel in four rounds, glare, a Gaussian against noise, the tails of both
sides, a threshold by the surface's own spread, the weave's autocorrelation, then twice labels,
labels grown by 3 px, the sound surface about each pixel, plateaus, outlines at half; patches,
as level lines of tone and of the cloth's swing, each with the step across it; last the sizes
of all. It does less than ours: no judging, no weave taken out, no sizing by missing light.
"""

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.voids_accuracy import floor_steps, ours_steps, processor_time
from tests.pictures import CASES, render

PX_PER_MM = 12.0

Coded = NDArray[np.uint8]
Times = tuple[float, float]  # wall, processor


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--megapixels", type=float, nargs="+", default=[12.0, 48.0])
    asked.add_argument("--cases", nargs="+", default=["sound", "easy", "dense"])
    asked.add_argument("--rounds", type=int, default=5)
    asked.add_argument("--no-skimage", action="store_true")
    asked.add_argument("--peak", type=Path, help="measure this one and say the peak memory")
    options = asked.parse_args()
    cv2.setNumThreads(2)
    if options.peak:
        print(json.dumps(peak_of(options.peak)))
        return
    ours: dict[tuple[str, float], Times] = {}
    with tempfile.TemporaryDirectory() as folder:
        for megapixels in options.megapixels:
            for name in options.cases:
                coded = photo(name, megapixels)
                file = Path(folder) / f"{name}.jpg"
                file.write_bytes(coded.tobytes())
                ours[name, megapixels] = report(name, megapixels, coded, file, options)
        start_up(file)
    least, most = min(options.megapixels), max(options.megapixels)
    if most > least:
        for name in options.cases:
            wall, processor = (
                b / a for a, b in zip(ours[name, least], ours[name, most], strict=True)
            )
            print(
                f"{name}: {most:g} megapixels take {wall:.2f} times ({processor:.2f} of "
                f"processor) the time of {least:g} (bar 4.5 for 48 against 12)"
            )


def photo(name: str, megapixels: float) -> Coded:
    """A case of the first renderer as a JPEG of so many megapixels."""
    side = np.sqrt(megapixels * 1e6 / 12) / PX_PER_MM
    # What one render of 48 megapixels would hold, four of 12 hold too: mirrored, edges meet.
    parts = 2 if megapixels > 20 else 1
    picture = render(replace(CASES[name], size_mm=(4 * side / parts, 3 * side / parts))).grey
    render.cache_clear()
    if parts == 2:
        picture = np.hstack([picture, picture[:, ::-1]])
        picture = np.vstack([picture, picture[::-1]])
    return cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, 92])[1]


def report(
    name: str, megapixels: float, coded: Coded, file: Path, options: argparse.Namespace
) -> Times:
    """Time one picture all ways and say so in a few lines."""
    # Without one's own turn first, whoever is first pays for waking the machine.
    ways: list[Callable[[], None]] = [lambda: floor_steps(coded), lambda: ours_steps(coded)]
    floor, ours = best_in_turn(ways, options.rounds)
    print(
        f"{name}, {megapixels:g} megapixels: {ours[0]:.2f} s ({ours[1]:.2f} of processor), floor "
        f"{floor[0]:.3f} ({floor[1]:.3f}): {ours[0] / floor[0]:.1f} times "
        f"({ours[1] / floor[1]:.1f}; bar 5)"
    )
    if not options.no_skimage and megapixels <= 20:
        (theirs,) = best_in_turn([lambda: skimage_steps(coded)], 1)
        print(
            f"  the same steps in scikit-image: {theirs[0]:.1f} s ({theirs[1]:.1f}), "
            f"{theirs[0] / ours[0]:.1f} times ours ({theirs[1] / ours[1]:.1f}; bar 10)"
        )
    peak = peak_apart(file)
    print(
        f"  peak memory {peak['peak_mb']:.0f} MB, {peak['peak_mb'] - peak['before_mb']:.0f} MB of "
        "it for decoding and measuring (bar 400 at 12 megapixels, 1200 in all at 48)",
        flush=True,
    )
    return ours


def best_in_turn(ways: list[Callable[[], None]], rounds: int) -> list[Times]:
    """The best wall and processor time of each, taken in turn."""
    taken: list[list[Times]] = [[] for _ in ways]
    for _ in range(rounds):
        for way, times in zip(ways, taken, strict=True):
            began, used = time.perf_counter(), processor_time()
            way()
            times.append((time.perf_counter() - began, processor_time() - used))
    return [(min(t[0] for t in times), min(t[1] for t in times)) for times in taken]


def skimage_steps(coded: Coded) -> None:
    """The steps of ours that scikit-image and SciPy have, as one would write them with it."""
    from scipy import fft, ndimage
    from skimage import exposure, feature, filters, io, measure, segmentation, transform

    grey = io.imread(_as_file(coded), as_gray=True)
    light = exposure.adjust_gamma(grey.astype(np.float32) / 255, 2.2)
    cell = round(PX_PER_MM)
    cells = transform.downscale_local_mean(light, (cell, cell))
    wide = filters.gaussian(cells, 5)
    for _ in range(4):
        wide = filters.gaussian(np.where(np.abs(cells / wide - 1) < 0.1, cells, wide), 5)
    even = light / transform.resize(wide, light.shape, order=1)
    bright = ndimage.uniform_filter(cells / wide, 3) > 1.35
    bright |= (
        ndimage.uniform_filter((grey >= 250).astype(np.float32), 2 * cell)[::cell, ::cell][
            : bright.shape[0], : bright.shape[1]
        ]
        > 0.5
    )
    glare = transform.resize(bright, light.shape, order=0)
    smooth = filters.gaussian(even, 0.8)
    missing = -np.log(np.maximum(smooth, 1e-3))
    for side in (missing, -missing):
        np.histogram(side[::5, ::5], bins=400)
    middle = np.median(missing)
    sd = 1.4826 * np.median(np.abs(missing - middle))
    objects = (missing > middle + 5 * sd) & ~glare
    skimage_patches(even)
    window = even[:768, :768] - even[:768, :768].mean()
    repeat = fft.irfft2(np.abs(fft.rfft2(window)) ** 2)
    feature.peak_local_max(repeat, min_distance=6, num_peaks=6)
    # Twice, as ours: once from what was found to outlines, once from outlines to sizes.
    for _ in range(2):
        labels = measure.label(objects)
        grown = segmentation.expand_labels(labels, 3)
        sound = (grown == 0).astype(np.float32)
        near = ndimage.uniform_filter(sound, 15)
        around = ndimage.uniform_filter(even * sound, 15) / np.maximum(near, 0.05)
        rise = around - even
        count = int(grown.max())
        every = np.arange(1, count + 1)
        if count == 0:
            return
        plateau = np.concatenate([[0], ndimage.maximum(rise, grown, every)])
        for share in (0.5, 0.7):
            upper = np.where(rise >= share * plateau[grown], grown, 0)
            plateau = np.concatenate([[0], np.nan_to_num(ndimage.mean(rise, upper, every))])
        for share in (0.35, 0.65):
            ndimage.sum_labels(rise > share * plateau[grown], grown, every)
        objects = ndimage.binary_fill_holes((grown > 0) & (rise > plateau[grown] / 2))
    measure.regionprops_table(
        measure.label(objects),
        intensity_image=rise,
        properties=(
            "area",
            "centroid",
            "equivalent_diameter_area",
            "axis_major_length",
            "axis_minor_length",
            "orientation",
            "feret_diameter_max",
            "perimeter_crofton",
            "intensity_mean",
        ),
    )


def skimage_patches(even: NDArray[np.floating]) -> None:
    """Places where the cloth's tone or swing differs, as level lines with the step across them."""
    from scipy import ndimage
    from skimage import filters, measure, morphology, transform

    fine = np.log(np.maximum(transform.downscale_local_mean(even, (5, 5)), 1e-4))
    coarse = transform.downscale_local_mean(fine, (2, 2))
    cell_mm = 10 / PX_PER_MM
    near = filters.gaussian(coarse, 1.5 / cell_mm)
    around = transform.resize(near, fine.shape, order=1)
    swung = transform.downscale_local_mean((fine - around) ** 2, (2, 2))
    swing = 0.5 * np.log(filters.gaussian(swung, 1 / cell_mm) + 1e-6)
    for chart in (near, -near, -swing):
        chart = chart - filters.gaussian(chart, 18 / cell_mm)
        spread = 1.4826 * np.median(np.abs(chart - np.median(chart)))
        slope = filters.sobel(chart)
        for level in (1.0, 1.4, 1.9, 2.6, 3.5, 4.7, 6.4, 8.7):
            above = morphology.closing(chart > level * spread, morphology.disk(1))
            labels = measure.label(ndimage.binary_fill_holes(above))
            rims = labels * (morphology.dilation(labels, morphology.disk(1)) > 0)
            for patch in measure.regionprops(rims, intensity_image=slope):
                if patch.area > 20 / cell_mm**2:
                    _ = patch.intensity_mean, patch.perimeter


def _as_file(coded: Coded) -> str:
    path = Path(tempfile.gettempdir()) / "defectlog-speed.jpg"
    path.write_bytes(coded.tobytes())
    return str(path)


def peak_apart(file: Path) -> dict[str, float]:
    """The peak memory of measuring, in a process of its own."""
    command = [sys.executable, "-m", "tests.benchmarks.voids_speed", "--peak", str(file)]
    said = subprocess.run(command, capture_output=True, text=True, check=True)  # noqa: S603
    return json.loads(said.stdout)


def peak_of(file: Path) -> dict[str, float]:
    """Megabytes held at most, before and with measuring."""
    before = _most_held_mb()
    ours_steps(np.fromfile(file, np.uint8))
    return {"before_mb": before, "peak_mb": _most_held_mb()}


def _most_held_mb() -> float:
    """From Linux's own account: what ``getrusage`` says holds the parent's peak too."""
    (line,) = [
        line
        for line in Path("/proc/self/status").read_text().splitlines()
        if line.startswith("VmHWM")
    ]
    return float(line.split()[1]) / 1024


def start_up(file: Path) -> None:
    """What the command takes beside the seconds it measures for, best of five."""
    small = cv2.imread(str(file), cv2.IMREAD_GRAYSCALE)[:600, :800]
    photo = file.with_name("small.png")
    cv2.imwrite(str(photo), small)
    command = [sys.executable, "-m", "defectlog", "measure", str(photo), "--json"]
    beside: list[Times] = []
    for _ in range(5):
        began, used = time.perf_counter(), _children()
        said = subprocess.run(command, capture_output=True, text=True, check=True)  # noqa: S603
        seconds = json.loads(said.stdout)["seconds"]
        beside.append((time.perf_counter() - began - seconds, _children() - used - seconds))
    print(
        f"start-up of the command: {min(t[0] for t in beside):.2f} s "
        f"({min(t[1] for t in beside):.2f} of processor; bar 0.5)"
    )


def _children() -> float:
    spent = resource.getrusage(resource.RUSAGE_CHILDREN)
    return spent.ru_utime + spent.ru_stime


if __name__ == "__main__":
    main()
