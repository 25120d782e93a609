"""How numbers are read from people and written out for them, with their units."""

import math

from defectlog.errors import FieldError

NBSP = "\N{NO-BREAK SPACE}"
MINUS = "\N{MINUS SIGN}"


def read_number(text: str, *, field: str, label: str) -> float:
    """Read a number as people type it: a decimal point or a decimal comma, spaces allowed.

    Raises
    ------
    FieldError
        If it is no finite number, or if commas and points are mixed so that it could be
        read in two ways.
    """
    plain = text.strip().replace(NBSP, "").replace(" ", "").replace(MINUS, "-")
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
    """Write a number with so many significant digits, without exponent: 0.42, 12.4, 1310, −0.6."""
    if value == 0 or not math.isfinite(value):
        return "0" if value == 0 else str(value)
    places = digits - 1 - math.floor(math.log10(abs(value)))
    rounded = round(value, places)
    text = f"{rounded:.{max(0, places)}f}".replace("-", MINUS)
    return text.rstrip("0").rstrip(".") if "." in text else text


def with_unit(value: float, unit: str, digits: int = 3) -> str:
    """A figure and its unit, held together on one line; degrees of angle follow without a space."""
    between = "" if unit in ("", "°") else NBSP
    return f"{figure(value, digits)}{between}{unit}"


def percent(fraction: float, digits: int = 2) -> str:
    """A fraction 0–1 written in per cent with two significant digits: 0.42 %."""
    return with_unit(100 * fraction, "%", digits)


def percent_range(low: float, high: float) -> str:
    """An interval of fractions in per cent, both ends to the places the upper one needs."""
    top = 100 * high
    places = 0 if top <= 0 else max(0, 1 - math.floor(math.log10(top)))
    return f"{100 * low:.{places}f} to {top:.{places}f}{NBSP}%"


def plural(count: int, one: str, many: str | None = None) -> str:
    """``1 photo``, ``3 photos``."""
    return f"{count}{NBSP}{one if count == 1 else many or one + 's'}"
