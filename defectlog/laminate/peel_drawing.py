"""Places on two drawings: force against fold-back angle, and the peel front that turns with it.

Both are in units of their own viewBox, y downwards. The curve is drawn in multiples of peel
energy times width, so that it is the same for every strip and only its figures change.
static/js/guide/peel.js works out the same places on the screen; one table of points tests both.
"""

import math
from dataclasses import dataclass

from defectlog.laminate.peel import peel_load

SMALLEST_DEG, LARGEST_DEG = 30.0, 180.0

# The curve: a field of 340 by 260, 0 to 4 times energy times width.
LEFT, RIGHT, TOP, BOTTOM = 46.0, 330.0, 14.0, 212.0
MOST = 4.0

# The section: the front at FRONT, cloth still on to its left, bared surface to its right.
FRONT_X, SURFACE_Y = 180.0, 150.0
FOLD_RADIUS, ARM, LONGEST_LIFT = 9.0, 112.0, 80.0


@dataclass(frozen=True, slots=True)
class Arm:
    """The section at one angle: end of the bend, end of the arm, and the tip of the lift arrow.

    ``path`` is the arm from the front on; the lift arrow stands at the front, in proportion to
    the lift up to its longest.
    """

    bend: tuple[float, float]
    end: tuple[float, float]
    lift_y: float
    path: str


def relative(angle_deg: float) -> tuple[float, float]:
    """Pull and lift in multiples of peel energy times width."""
    load = peel_load(1000.0, 1.0, angle_deg)
    return load.pull_n, load.lift_n


def place(angle_deg: float, multiple: float) -> tuple[float, float]:
    """Where on the curve's drawing; what is too large for it lies on its upper edge."""
    x = LEFT + (angle_deg - SMALLEST_DEG) / (LARGEST_DEG - SMALLEST_DEG) * (RIGHT - LEFT)
    y = BOTTOM - min(multiple, MOST) / MOST * (BOTTOM - TOP)
    return round(x, 1), round(y, 1)


def curves() -> tuple[str, str]:
    """The points of the pull and of the lift, as far as they fit, for two polylines."""
    angles = [SMALLEST_DEG + step for step in range(int(LARGEST_DEG - SMALLEST_DEG) + 1)]
    lines = []
    for which in (0, 1):
        fits = [(a, relative(a)[which]) for a in angles if relative(a)[which] <= MOST]
        lines.append(" ".join("{:g},{:g}".format(*place(a, value)) for a, value in fits))
    return lines[0], lines[1]


def arm(angle_deg: float) -> Arm:
    """The section at one fold-back angle, 30 to 180°."""
    turn = math.radians(angle_deg)
    bend = (
        FRONT_X + FOLD_RADIUS * math.sin(turn),
        SURFACE_Y - FOLD_RADIUS * (1 - math.cos(turn)),
    )
    end = bend[0] + ARM * math.cos(turn), bend[1] - ARM * math.sin(turn)
    lift = min(relative(angle_deg)[1] / MOST, 1) * LONGEST_LIFT
    path = (
        f"M{FRONT_X:.1f} {SURFACE_Y:.1f}A{FOLD_RADIUS:g} {FOLD_RADIUS:g} 0 0 0 "
        f"{bend[0]:.1f} {bend[1]:.1f}L{end[0]:.1f} {end[1]:.1f}"
    )
    return Arm(bend, end, SURFACE_Y - lift, path)
