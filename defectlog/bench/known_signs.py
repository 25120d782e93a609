"""What a finding's photos say by themselves of its kind: face, shape of its marks, of its voids."""

from collections import Counter

import cv2
import numpy as np

from defectlog.bench.mark_points import outline_of
from defectlog.records import Finding, Mark, Measurement


def known_signs(finding: Finding) -> dict[str, str]:
    """Face, mark and measured shape, in the words that the key's ``answers_from`` takes.

    The first mark that is on a photo speaks for its face. A shape is given only where all such
    marks have the same; ``measured`` is what most voids inside the marks are, by the latest
    measurement of each photo, and left out on a tie.
    """
    marks = [mark for mark in finding.marks if mark.photo.deleted_at is None]
    if not marks:
        return {}
    signs = {"face": marks[0].photo.face.value}
    shapes = {mark.shape.value for mark in marks}
    if len(shapes) == 1:
        signs["mark"] = shapes.pop()
    counted: Counter[str] = Counter()
    for mark in marks:
        latest = max(mark.photo.measurements, key=lambda row: (row.at, row.id), default=None)
        if latest is not None:
            counted.update(_shapes_inside(mark, latest))
    ranked = counted.most_common(2)
    if ranked and (len(ranked) == 1 or ranked[0][1] > ranked[1][1]):
        signs["measured"] = ranked[0][0]
    return signs


def _shapes_inside(mark: Mark, measured: Measurement) -> list[str]:
    """The shape words of the voids whose middle lies inside an outline or a box."""
    corners = outline_of(mark)
    if corners is None:
        return []
    outline = np.array(corners, np.float32)
    return [
        void["shape"]
        for void in measured.result.get("voids", ())
        if cv2.pointPolygonTest(outline, (float(void["x"]), float(void["y"])), False) >= 0
    ]
