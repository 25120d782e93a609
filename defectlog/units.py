"""How numbers are read from people and written out for them, with their units."""

import math

from defectlog.errors import FieldError

NBSP = "\N{NO-BREAK SPACE}"
MINUS = "\N{MINUS SIGN}"
THIN = "\N{NARROW NO-BREAK SPACE}"


def read_number(text: str, *, field: str, label: str) -> float:
    """Read a number as people type it: a decimal point or a decimal comma, spaces allowed.

    Raises
    ------
    FieldError
        If it is no finite number, or if commas and points are mixed so that it could be
        read in two ways.
    """
    plain = text.strip().replace(MINUS, "-")
    for space in (" ", NBSP, THIN):
        plain = plain.replace(space, "")
    if not plain:
        raise FieldError(
            field, f"{label}: nothing is filled in", "write a number, such as 12 or 0,8"
        )
    if ("," in plain and "." in plain) or plain.count(",") > 1 or plain.count(".") > 1:
        raise FieldError(
            field,
            f"{label}: “{text.strip()}” can be read in more than one way",
            "write it with one decimal point or comma and no thousands marks",
        )
    try:
        value = float(plain.replace(",", "."))
    except ValueError:
        value = math.nan
    if not math.isfinite(value) or "_" in plain:
        raise FieldError(
            field, f"{label}: “{text.strip()}” is not a number", "write digits, such as 12 or 0,8"
        )
    return value


def figure(value: float, digits: int = 3) -> str:
    """Write a number with so many significant digits, without exponent: 0.42, 12.4, 1310, −0.6.

    From ten thousand on the thousands stand apart by a thin space that does not break: 20 000.
    """
    if value == 0 or not math.isfinite(value):
        return "0" if value == 0 else str(value)
    places = digits - 1 - math.floor(math.log10(abs(value)))
    rounded = round(value, places)
    text = f"{rounded:{',' if abs(rounded) >= 10_000 else ''}.{max(0, places)}f}"
    text = text.replace("-", MINUS).replace(",", THIN)
    return text.rstrip("0").rstrip(".") if "." in text else text


def with_unit(value: float, unit: str, digits: int = 3) -> str:
    """A figure and its unit, held together on one line; degrees of angle follow without a space."""
    between = "" if unit in ("", "°") else NBSP
    return f"{figure(value, digits)}{between}{unit}"


def percent(fraction: float, digits: int = 2) -> str:
    """A fraction 0–1 written in per cent with two significant digits: 0.42 %."""
    return with_unit(100 * fraction, "%", digits)


def measured_percent(fraction: float) -> str:
    """A measured fraction 0–1 in per cent, always with two significant digits: 0.20 %, 1.0 %.

    What was measured says by its zeros how finely; what somebody chose, such as a limit, or
    counted is written by ``percent``.
    """
    value = 100 * fraction
    for _ in range(2):  # once more, for rounding may have reached the next power of ten
        if value == 0 or not math.isfinite(value):
            return with_unit(value, "%")
        places = 1 - math.floor(math.log10(abs(value)))
        value = round(value, places)
    return f"{value:.{max(0, places)}f}".replace("-", MINUS) + f"{NBSP}%"


def percent_range(low: float, high: float) -> str:
    """An interval of fractions in per cent, both ends to the places the upper one needs."""
    top = 100 * high
    places = 0 if top <= 0 else max(0, 1 - math.floor(math.log10(top)))
    return f"{100 * low:.{places}f} to {top:.{places}f}{NBSP}%"


def plural(count: int, one: str, many: str | None = None) -> str:
    """``1 photo``, ``3 photos``."""
    return f"{count}{NBSP}{one if count == 1 else many or one + 's'}"
