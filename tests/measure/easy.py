"""A surface on which voids are easily told, and how a rendered picture is measured."""

from defectlog.measure import measure_voids
from tests.pictures import Picture, Surface, render

EASY = render(Surface(size_mm=(50, 40), fraction=0.03, rake=0.3, seed=31))


def measured(picture: Picture, **asked):
    return measure_voids(picture.grey, px_per_mm=picture.px_per_mm, **asked)
