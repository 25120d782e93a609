"""Numbers as they are read from people and written for them."""

import pytest

from defectlog.errors import FieldError
from defectlog.units import (
    figure,
    measured_percent,
    percent,
    percent_range,
    plural,
    read_number,
    with_unit,
)

NBSP = "\N{NO-BREAK SPACE}"


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (0, "0"),
        (0.4236, "0.424"),
        (12.44, "12.4"),
        (1310.4, "1310"),
        (0.0000123, "0.0000123"),
        (-3.456, "\N{MINUS SIGN}3.46"),
        (999.96, "1000"),
    ],
)
def test_a_figure_has_three_digits_and_no_exponent(value: float, words: str) -> None:
    assert figure(value) == words


def test_a_unit_stays_on_the_line_of_its_figure() -> None:
    assert with_unit(12.4, "px/mm") == f"12.4{NBSP}px/mm"


def test_fractions_are_shown_in_per_cent() -> None:
    assert percent(0.00424) == f"0.42{NBSP}%"
    assert percent_range(0.0031, 0.0058) == f"0.31 to 0.58{NBSP}%"
    assert percent_range(0, 0) == f"0 to 0{NBSP}%"


@pytest.mark.parametrize(
    ("fraction", "words"),
    [
        (0, "0"),
        (0.002, "0.20"),
        (0.00204, "0.20"),
        (0.01, "1.0"),
        (0.0142, "1.4"),
        (0.1, "10"),
        (0.00001, "0.0010"),
        # Rounded up into the next power of ten, there are two digits still.
        (0.000996, "0.10"),
        (0.0996, "10"),
        (0.996, "100"),
    ],
)
def test_a_measured_fraction_keeps_its_second_digit_though_it_is_a_zero(fraction, words) -> None:
    assert measured_percent(fraction) == f"{words}{NBSP}%"


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (9999, "9999"),
        (10_000, "10\u202f000"),
        (100_000, "100\u202f000"),
        (1_234_567, "1\u202f234\u202f567"),
        (-20_000.5, "\N{MINUS SIGN}20\u202f000.5"),
    ],
)
def test_thousands_stand_apart_from_ten_thousand_on_and_can_be_typed_back(value, words) -> None:
    assert figure(value, 7) == words
    assert read_number(words, field="x", label="X") == value


def test_thousands_marks_are_refused_with_what_to_write() -> None:
    with pytest.raises(FieldError, match="no thousands marks"):
        read_number("1,234.5", field="mass", label="Mass")


def test_one_is_singular() -> None:
    assert plural(1, "photo") == f"1{NBSP}photo"
    assert plural(0, "photo") == f"0{NBSP}photos"


def test_a_negative_figure_has_a_minus_sign_and_can_be_typed_back() -> None:
    assert figure(-0.6) == "\N{MINUS SIGN}0.6"
    assert read_number(figure(-0.6), field="x", label="X") == -0.6


def test_degrees_of_an_angle_stand_close_and_those_of_heat_apart() -> None:
    assert with_unit(175, "°") == "175°"
    assert with_unit(21, "°C") == f"21{NBSP}°C"
