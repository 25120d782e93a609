"""The working figure of the peel-ply page: what was asked, and its numbers in words."""

from collections.abc import Mapping
from dataclasses import dataclass

from defectlog.derived import derive
from defectlog.errors import FieldError
from defectlog.guide.removal import Energy
from defectlog.laminate import peel_load
from defectlog.laminate.peel_drawing import (
    LARGEST_DEG,
    MOST,
    SMALLEST_DEG,
    Arm,
    arm,
    curves,
    place,
    relative,
)
from defectlog.units import figure, read_number, with_unit

STATED_DEG = (180, 150, 120, 90, 60, 30)

# What the class of a fold-back angle means for the ply; the classes are those of derived.py.
VERDICTS = {
    "fold": "Folded back: some half the force of a straight pull up, and little of its lift.",
    "mid": "Upwards: more than half of the pull tries to lift the top ply off.",
    "low": "Back over the bared side: pull and lift climb steeply. This is how plies are torn.",
}


@dataclass(frozen=True, slots=True)
class Slider:
    """One thing to set: its bounds, step and unit, and how it stands."""

    name: str
    label: str
    low: float
    high: float
    step: float
    unit: str
    value: float

    @property
    def words(self) -> str:
        return with_unit(self.value, self.unit)


@dataclass(frozen=True, slots=True)
class PeelFigure:
    """The figure at one setting, ready to be written down."""

    sliders: tuple[Slider, ...]
    fold: str
    arm: Arm
    curves: tuple[str, str]
    pull_at: tuple[float, float]
    lift_at: tuple[float, float]
    ticks: tuple[tuple[float, str], ...]
    stated: tuple[tuple[int, str, str], ...]
    pull: str
    lift: str
    pull_between: str
    lift_between: str
    per_metre: str


def peel_figure(asked: Mapping[str, str], energy: Energy) -> PeelFigure:
    """The figure for a query; what cannot be read or is out of bounds stands at the nearest."""
    angle = _asked(asked, "angle", SMALLEST_DEG, LARGEST_DEG, 180)
    width = _asked(asked, "width", 10, 300, 100)
    joule = _asked(asked, "energy", energy.low, energy.high, energy.usual)
    load = peel_load(joule, width, angle)
    least, most = (peel_load(one, width, angle) for one in (energy.low, energy.high))
    pull_part, lift_part = relative(angle)
    unit = joule * width / 1000
    fold = derive({"peel_fold_back_deg": angle})["fold_class"]
    return PeelFigure(
        (
            Slider("angle", "Fold-back angle", SMALLEST_DEG, LARGEST_DEG, 5, "°", angle),
            Slider("width", "Width of the strip", 10, 300, 5, "mm", width),
            Slider("energy", "Peel energy", energy.low, energy.high, 20, "J/m²", joule),
        ),
        fold,
        arm(angle),
        curves(),
        place(angle, pull_part),
        place(angle, lift_part),
        tuple(
            (place(LARGEST_DEG, step)[1], figure(step * unit, 2)) for step in range(int(MOST) + 1)
        ),
        tuple((one, *_stated(joule, width, one)) for one in STATED_DEG),
        _newton(load.pull_n),
        _newton(load.lift_n),
        f"{figure(least.pull_n, 2)} to {_newton(most.pull_n)}",
        f"{figure(least.lift_n, 2)} to {_newton(most.lift_n)}",
        f"{figure(1000 * load.pull_n_per_mm, 2)} and "
        f"{with_unit(1000 * load.lift_n_per_mm, 'N/m', 2)}",
    )


def _asked(asked: Mapping[str, str], name: str, low: float, high: float, usual: float) -> float:
    try:
        value = read_number(asked.get(name, ""), field=name, label=name)
    except FieldError:
        return float(usual)
    return min(max(value, low), high)


def _stated(joule: float, width: float, angle: float) -> tuple[str, str]:
    load = peel_load(joule, width, angle)
    return _newton(load.pull_n), _newton(load.lift_n)


def _newton(value: float) -> str:
    return with_unit(value, "N", 2)
