"""What can be drawn on a photo: enough points, inside the picture, with an extent."""

import math
from collections.abc import Sequence

from defectlog.errors import FieldError
from defectlog.measure.lengths.drawn_outline import crosses_itself, has_area
from defectlog.measure.lengths.extent import box_outline
from defectlog.records import Mark, Photo, Shape
from defectlog.units import plural

Point = tuple[float, float]
MOST_CORNERS = 2000

_DRAWN = {
    Shape.POINT: "a point",
    Shape.LINE: "a line",
    Shape.OUTLINE: "an outline",
    Shape.BOX: "a box",
}


class MarkError(FieldError):
    """What was drawn is no mark on this photo."""

    def __init__(self, what: str, do: str) -> None:
        super().__init__("points", what, do)


def check_points(shape: Shape, points: Sequence[Point], photo: Photo) -> list[list[float]]:
    """The points of a mark, checked against its shape and its photo.

    Raises
    ------
    MarkError
        If the shape has too few points, a point lies outside the picture, it has no extent, or
        its outline crosses itself.
    """
    try:
        checked = [[float(x), float(y)] for x, y in points]
    except (TypeError, ValueError) as error:
        raise MarkError("The mark could not be read", "draw it again") from error
    least = {Shape.POINT: 1, Shape.LINE: 2, Shape.OUTLINE: 3, Shape.BOX: 2}[shape]
    most = {Shape.POINT: 1, Shape.BOX: 2}.get(shape, MOST_CORNERS)
    if not least <= len(checked) <= most:
        raise MarkError(
            f"A mark drawn as {_DRAWN[shape]} has {_count_words(least, most)}, not {len(checked)}",
            "draw it again",
        )
    for x, y in checked:
        inside = 0 <= x <= photo.width_px and 0 <= y <= photo.height_px
        if not (math.isfinite(x) and math.isfinite(y) and inside):
            raise MarkError("Part of the mark lies outside the picture", "draw it on the photo")
    if shape is not Shape.POINT:
        (x0, y0), *others = checked
        if max(math.hypot(x - x0, y - y0) for x, y in others) < 1:
            raise MarkError("The mark has no length", "drag further, or set a spot instead")
    if shape in (Shape.OUTLINE, Shape.BOX):
        _check_area(shape, [(x, y) for x, y in checked])
    return checked


def outline_of(mark: Mark) -> list[Point] | None:
    """The corners of what an outline or a box encloses; None for a spot and a line."""
    points = [(x, y) for x, y in mark.points]
    if mark.shape is Shape.BOX:
        (x0, y0), (x1, y1) = points
        return list(box_outline(x0, y0, x1 - x0, y1 - y0))
    return points if mark.shape is Shape.OUTLINE else None


def _check_area(shape: Shape, corners: Sequence[Point]) -> None:
    if shape is Shape.BOX:
        (x0, y0), (x1, y1) = corners
        corners = box_outline(x0, y0, x1 - x0, y1 - y0)
    elif crosses_itself(corners):
        raise MarkError("The outline crosses itself", "draw it again without crossing")
    if not has_area(corners):
        raise MarkError(
            f"{_DRAWN[shape].capitalize()} needs an area, and this is a line",
            "draw it round the place, or draw a line instead",
        )


def _count_words(least: int, most: int) -> str:
    return plural(least, "point") if least == most else f"{least} to {most} points"
