"""A photo of the dot sheet measured: how far this camera, this light and this method can go."""

import statistics
import threading
from pathlib import Path
from typing import Any, BinaryIO

from defectlog.errors import FieldError
from defectlog.measure.dot_reading import DiameterReading, DotReading, FieldReading, read_dot_sheet
from defectlog.photos.decoding import DEFAULT_MAX_PX, decode
from defectlog.units import NBSP, figure, plural, with_unit

# Of the discs of one diameter, from which share on it counts as seen.
MOSTLY = 0.8
# Sizes that are all off by as much as this, in mm across, are told; less is nobody's fault.
TOLD_FROM_MM = 0.02

_one_at_a_time = threading.Semaphore(1)


def measure_dots(photo: BinaryIO) -> DotReading:
    """Measure a photo of the dot sheet from its file. Nothing is kept.

    Raises
    ------
    PhotoRefusedError
        One of its subclasses, if the bytes are not a photo we can read.
    NoDotSheetError
        If the sheet is not found on it.
    """
    with _one_at_a_time:
        return read_dot_sheet(decode(photo, max_px=DEFAULT_MAX_PX).pixels())


def measure_dot_file(file: Path) -> DotReading:
    """Measure a photo of the dot sheet that lies in a folder."""
    try:
        with file.open("rb") as photo:
            return measure_dots(photo)
    except OSError as error:
        raise FieldError(
            "photo", f"{file} cannot be opened", "check its name and that it may be read"
        ) from error


def summary_words(reading: DotReading) -> tuple[str, ...]:
    """What the photo says as a whole, in a few sentences."""
    count, covered = len(reading.fields), reading.covered_count
    said = [
        f"{_how_many(covered, count)} the printed share; on average the measured one is "
        f"{_points(reading.mean_error)} off."
    ]
    white = [field.letter for field in reading.fields if field.is_white]
    if white:
        said.append(_white_words(white, count))
    if covered < count:
        said.append(
            "Do not believe the intervals on photos like this one"
            + (
                "."
                if white
                else ": go closer, even out the light, print the sheet more finely, and try again."
            )
        )
    off = _all_off_mm(reading)
    if off is not None and abs(off) >= TOLD_FROM_MM:
        said.append(_off_words(off, burnt_out=bool(white)))
    if reading.not_seen:
        one = len(reading.not_seen) == 1
        names = ", ".join(reading.not_seen)
        said.append(
            f"{'Field' if one else 'Fields'} {names} {'is' if one else 'are'} not wholly on the "
            "photo and left out."
        )
    said.extend(reading.scale.warnings)
    return tuple(said)


def field_words(field: FieldReading) -> str:
    """One field in a sentence: what is printed, what was measured, how far off, held or not."""
    off = abs(field.error)
    if off < 0.00005:
        by = "right to a hundredth of a point"
    else:
        by = f"{_points(off)} too {'much' if field.error > 0 else 'little'}"
    held = "the interval holds it" if field.is_covered else "outside the interval"
    return (
        f"{_share(field.printed_fraction)} printed, {_share(field.measured_fraction)} measured "
        f"(95 % interval {100 * field.low:.2f} to {_share(field.high)}): {by}, {held}."
    )


def size_words(size: DiameterReading) -> tuple[str, str]:
    """The dots of one diameter: the diameter; how many were found, and how large."""
    return with_unit(size.printed_mm, "mm"), _size_found(size)


def _size_found(size: DiameterReading) -> str:
    found = f"{size.found_count} of {size.printed_count} found"
    if size.measured_mm is None or size.found_count < MOSTLY * size.printed_count:
        return f"{found}: mostly below what this photo can show"
    off = 100 * (size.measured_mm / size.printed_mm - 1)
    by = f"{abs(off):.1f}{NBSP}% too {'large' if off > 0 else 'small'}"
    if abs(off) < 0.05:
        by = "true to size"
    return f"{found}, measured {size.measured_mm:.2f}{NBSP}mm: {by}"


def reading_json(image: str, reading: DotReading) -> dict[str, Any]:
    """The reading as one JSON object."""
    return {
        "image": image,
        "paper": reading.paper,
        "px_per_mm": reading.scale.px_per_mm,
        "fields": [
            {
                "field": field.letter,
                "printed_fraction": field.printed_fraction,
                "measured_fraction": field.measured_fraction,
                "measured_low": field.low,
                "measured_high": field.high,
                "error": field.error,
                "covered": field.is_covered,
                "printed_count": field.printed_count,
                "measured_count": field.measured_count,
                "warnings": list(field.warnings),
            }
            for field in reading.fields
        ],
        "diameters": [
            {
                "printed_mm": size.printed_mm,
                "printed_count": size.printed_count,
                "found_count": size.found_count,
                "measured_mm": size.measured_mm,
            }
            for size in reading.diameters
        ],
        "not_seen": list(reading.not_seen),
        "mean_error": reading.mean_error,
        "covered_count": reading.covered_count,
        "warnings": list(reading.scale.warnings),
    }


def reading_words(reading: DotReading) -> str:
    """The reading as lines to print."""
    lines = [*summary_words(reading), ""]
    lines += [f"Field {field.letter}: {field_words(field)}" for field in reading.fields]
    lines.append("")
    lines += [f"{across}: {words}." for across, words in map(size_words, reading.diameters)]
    return "\n".join(lines)


def _white_words(letters: list[str], count: int) -> str:
    """What paper burnt out means for the figures, and what to do about it."""
    one = len(letters) == 1
    where = f"in field{'' if one else 's'} {', '.join(letters)}"
    return (
        f"The paper is burnt out to white {'all over' if len(letters) == count else where}, as by "
        "too much light, on many a scan, or in the drawing itself. It counts as sound, but the "
        "rims of the dots are burnt out with it and their sizes may be off: photograph the "
        "printed sheet with less light, or scan it with its whites left grey."
    )


def _off_words(off_mm: float, *, burnt_out: bool) -> str:
    """Dots that are all larger or smaller than drawn, and what that comes of."""
    came_out = (
        f"The dots came out about {with_unit(abs(off_mm), 'mm', 1)} "
        f"{'larger' if off_mm > 0 else 'smaller'} across than drawn"
    )
    if burnt_out:
        return f"{came_out}."
    if off_mm > 0:
        return (
            f"{came_out}: ink that spreads does that, so look at a dot through a loupe before "
            "blaming the camera."
        )
    return (
        f"{came_out}: a printer that saves toner does that, and so does a picture that is not "
        "sharp."
    )


def _how_many(covered: int, count: int) -> str:
    if count == 1:
        return "The interval of the one field " + ("holds" if covered else "does not hold")
    if covered == count:
        return f"The intervals of all {count} fields hold"
    return f"{plural(covered, 'interval')} of {count} {'holds' if covered == 1 else 'hold'}"


def _share(fraction: float) -> str:
    """Hundredths of a per cent, so that the figures of all fields can be held together."""
    return f"{100 * fraction:.2f}{NBSP}%"


def _points(fraction: float) -> str:
    words = figure(100 * fraction, 2 if fraction >= 0.001 else 1)
    return f"{words}{NBSP}percentage point{'' if words == '1' else 's'}"


def _all_off_mm(reading: DotReading) -> float | None:
    """How much larger across the dots came out, over the sizes that were mostly found."""
    off = [
        size.measured_mm - size.printed_mm
        for size in reading.diameters
        if size.measured_mm is not None and size.found_count >= MOSTLY * size.printed_count
    ]
    return statistics.median(off) if len(off) >= 3 else None
