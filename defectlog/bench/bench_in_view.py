"""Whether a measurement took the bench beside the part for a void."""

from collections.abc import Iterable
from typing import Any

from defectlog.measure.figures.beware import MORE_THAN_CLOTH
from defectlog.measure.figures.summary import CUT_BY_EDGE


def shows_bench(region: Any | None, warnings: Iterable[str] | None) -> bool:
    """Nothing was outlined, and a large "void" runs out of the picture, or it is of no one cloth.

    Such a figure is shown with that said first, and stands for no build.
    """
    return region is None and any(
        sign in words for words in warnings or () for sign in (CUT_BY_EDGE, MORE_THAN_CLOTH)
    )
