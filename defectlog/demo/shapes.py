"""Outlines of the parts Heron Slip makes, in mm, y downwards, round their middle."""

from math import cos, pi, sin

from defectlog.demo.spec import Outline, Point


def rounded(corners: tuple[Point, ...], radius_mm: float, *, steps: int = 18) -> Outline:
    """A polygon, given clockwise as seen, with every corner rounded by an arc of that radius."""
    outline: list[Point] = []
    for index, corner in enumerate(corners):
        before, after = corners[index - 1], corners[(index + 1) % len(corners)]
        start, end = _toward(corner, before, radius_mm), _toward(corner, after, radius_mm)
        for step in range(steps + 1):
            # A quadratic curve is as good as an arc for the eye, and needs no centre.
            t = step / steps
            outline.append(
                tuple(
                    (1 - t) ** 2 * start[axis] + 2 * t * (1 - t) * corner[axis] + t**2 * end[axis]
                    for axis in range(2)
                )
            )
    return tuple(outline)


def _toward(corner: Point, other: Point, reach: float) -> Point:
    length = ((other[0] - corner[0]) ** 2 + (other[1] - corner[1]) ** 2) ** 0.5
    share = min(reach / length, 0.5)
    return (
        corner[0] + share * (other[0] - corner[0]),
        corner[1] + share * (other[1] - corner[1]),
    )


def circle(centre: Point, diameter_mm: float, *, steps: int = 28) -> Outline:
    """A round cut-out."""
    return tuple(
        (
            centre[0] + diameter_mm / 2 * cos(2 * pi * step / steps),
            centre[1] + diameter_mm / 2 * sin(2 * pi * step / steps),
        )
        for step in range(steps)
    )


HATCH_LID = rounded(((-180, -125), (180, -125), (180, 125), (-180, 125)), 46)
LOCKER_DOOR = rounded(((-170, -118), (170, -118), (170, 118), (-170, 118)), 16)
LOCKER_DOOR_HOLE = circle((128, 0), 34)
TEST_PANEL = rounded(((-150, -108), (150, -108), (150, 108), (-150, 108)), 8)
BOW_BULKHEAD = rounded(
    ((-182, -120), (182, -120), (150, 40), (62, 122), (-62, 122), (-150, 40)), 34
)
RUDDER_BLADE = rounded(
    ((-330, -92), (-120, -104), (170, -88), (318, -20), (312, 34), (120, 92), (-330, 104)), 44
)
