"""Measure picture files, without records: the same measurement as in the photo room."""

import csv
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from defectlog.errors import DefectlogError, FieldError, FormError
from defectlog.measure.figures.result import Void, VoidMeasurement
from defectlog.measure.lengths.markers import find_card, find_markers
from defectlog.measure.lengths.printed import CheckLines, put_right, read_lines
from defectlog.measure.lengths.scale import NO_SCALE, Scale, given_scale
from defectlog.measure.voids import measure_voids
from defectlog.photos.decoding import DEFAULT_MAX_PX, decode
from defectlog.units import read_number

OF_THE_WHOLE = "Of the whole photo: if more than the part is in view, give --region."
_COUNTED = np.array([226, 74, 140], dtype=np.uint8)


class NoMarkersError(DefectlogError):
    """The scale card or the markers that were said to lie in the picture are not found."""

    def __init__(self) -> None:
        super().__init__(
            "no scale card was found in the picture",
            "take it with the card flat, whole and sharp, or give --px-per-mm",
        )


@dataclass(frozen=True, slots=True)
class Wanted:
    """The options of ``defectlog measure``."""

    card: bool = False
    printed: str | None = None
    card_mm: float | None = None
    px_per_mm: float | None = None
    region: str | None = None
    look: str = "auto"
    smallest_mm: float | None = None
    csv_file: Path | None = None
    overlays: Path | None = None


@dataclass(frozen=True, slots=True)
class FileResult:
    """What came of one file: a measurement, or the sentence that says why not."""

    image: Path
    measured: VoidMeasurement | None
    fault: DefectlogError | None = None
    is_whole: bool = False  # the photo, for want of a region

    @property
    def words(self) -> str:
        """The figure or the fault in a line, and each warning in a line below it."""
        if self.measured is None:
            return f"{self.image}: {self.fault}"
        said = self.measured.in_words()
        if self.is_whole:
            said += f" {OF_THE_WHOLE}"
        minded = (f"\n    Mind: {warning}" for warning in self.measured.warnings)
        return f"{self.image}: {said}{''.join(minded)}"

    def as_json(self) -> dict[str, Any]:
        """The measurement as one JSON object, the image's name first."""
        if self.measured is None:
            raise ValueError(f"{self.image} was not measured")
        return {"image": str(self.image)} | self.measured.as_json()


def measure_files(images: Iterable[Path], wanted: Wanted) -> Iterator[FileResult]:
    """Measure each file in turn; a file that cannot be measured does not stop the others.

    Raises
    ------
    FieldError
        If an option is wrong, before any file is read.
    """
    if sum((wanted.card, wanted.card_mm is not None, wanted.px_per_mm is not None)) > 1:
        raise FieldError(
            "scale", "the scale is given in more than one way", "keep one of the scale options"
        )
    if wanted.printed is not None and not wanted.card:
        raise FieldError(
            "printed", "--printed is about the scale card", "give --card with it, or leave it away"
        )
    lines = _read_printed(wanted.printed)
    region = _read_region(wanted.region)
    if wanted.px_per_mm is not None:
        given_scale(wanted.px_per_mm)
    results = _each(images, wanted, region, lines)
    return results if wanted.csv_file is None else _with_table(results, wanted.csv_file)


def _each(
    images: Iterable[Path],
    wanted: Wanted,
    region: tuple[int, int, int, int] | None,
    lines: CheckLines | None,
) -> Iterator[FileResult]:
    for image in images:
        try:
            measured = _measure(image, wanted, region, lines)
            yield FileResult(image, measured, is_whole=region is None)
        except DefectlogError as fault:
            yield FileResult(image, None, fault)


def _measure(
    image: Path,
    wanted: Wanted,
    region: tuple[int, int, int, int] | None,
    lines: CheckLines | None,
) -> VoidMeasurement:
    try:
        with image.open("rb") as file:
            pixels = decode(file, max_px=DEFAULT_MAX_PX).pixels()
    except OSError as error:
        raise FieldError(
            "image", "the file cannot be opened", "check its name and that it may be read"
        ) from error
    measured = measure_voids(
        pixels,
        scale=_scale(pixels, wanted, lines),
        region=region,
        look=wanted.look,  # type: ignore[arg-type]
        smallest_mm=wanted.smallest_mm,
    )
    if wanted.overlays is not None:
        _draw(pixels, measured, wanted.overlays, image)
    return measured


def _scale(pixels: np.ndarray, wanted: Wanted, lines: CheckLines | None) -> Scale:
    if wanted.px_per_mm is not None:
        return given_scale(wanted.px_per_mm)
    if not wanted.card and wanted.card_mm is None:
        return NO_SCALE
    found = find_card(pixels) if wanted.card else find_markers(pixels, wanted.card_mm or 0)
    if found is None:
        raise NoMarkersError
    return found if lines is None else put_right(found, lines)


def _read_printed(text: str | None) -> CheckLines | None:
    """The two check lines of the printed card, as they were typed."""
    if text is None:
        return None
    cells = text.split(",")
    if len(cells) != 2:
        raise FieldError(
            "printed",
            f"“{text}” is not two lengths",
            "give what the two check lines of the card measure, in mm, such as 120.5,120.3",
        )
    across, down = (read_number(cell, field="printed", label="--printed") for cell in cells)
    try:
        return read_lines(across, down)
    except FormError as error:
        raise error.faults[0] from error


def _read_region(text: str | None) -> tuple[int, int, int, int] | None:
    if text is None:
        return None
    cells = text.split(",")
    if len(cells) != 4:
        raise FieldError(
            "region", f"“{text}” is not a region", "give X,Y,W,H in pixels, such as 100,80,900,600"
        )
    x, y, width, height = (
        round(read_number(cell, field="region", label="--region")) for cell in cells
    )
    if width <= 0 or height <= 0:
        raise FieldError("region", f"“{text}” has no area", "give a width and height above 0")
    return x, y, width, height


def _with_table(results: Iterator[FileResult], file: Path) -> Iterator[FileResult]:
    """Pass the results on, writing every void of every picture into a table."""
    try:
        out = file.open("w", newline="", encoding="utf-8")
    except OSError as error:
        raise FieldError("csv", f"{file} could not be written", "choose another place") from error
    with out:
        table = csv.writer(out)
        table.writerow(("image", *Void._fields))
        for result in results:
            for void in result.measured.voids if result.measured else ():
                table.writerow((result.image, *void))
            yield result


def _draw(pixels: np.ndarray, measured: VoidMeasurement, folder: Path, image: Path) -> None:
    """Save the picture with what was counted coloured, what was not inspected darkened."""
    drawn = pixels if pixels.ndim == 3 else np.stack([pixels] * 3, axis=-1)
    drawn = np.where(measured.inspected_mask[..., None], drawn, drawn // 3)
    drawn[measured.voids_mask] = drawn[measured.voids_mask] // 4 + _COUNTED // 4 * 3
    try:
        folder.mkdir(parents=True, exist_ok=True)
        Image.fromarray(drawn).save(folder / f"{image.stem}-voids.png", compress_level=3)
    except OSError as error:
        raise FieldError(
            "overlay", f"{folder} could not be written", "choose another place"
        ) from error
