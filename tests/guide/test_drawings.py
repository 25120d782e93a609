"""The drawings of the kinds: one each, and all of one family."""

import re
from pathlib import Path

import pytest

from defectlog.guide import kinds

ROOT = Path(__file__).parents[2]
DRAWINGS = {
    path.stem: path.read_text("utf-8")
    for path in (ROOT / "templates" / "guide" / "drawings").glob("*.html")
}
STYLED = set(re.findall(r"\.(section__\w+)", (ROOT / "static/css/guide.css").read_text("utf-8")))

RED = {"section__flaw", "section__rim", "section__sticky", "section__tell"}


def test_every_kind_has_a_drawing_and_every_drawing_a_kind():
    assert DRAWINGS.keys() == {kind.key for kind in kinds()}


@pytest.mark.parametrize("key", sorted(DRAWINGS))
def test_a_drawing_keeps_to_the_family(key):
    drawing = DRAWINGS[key]
    classes = set(re.findall(r'class="(section__\w+)"', drawing))

    assert drawing.startswith('<svg class="section" viewBox="0 0 360 170" role="img"')
    assert re.search(r'aria-label="(Section|Face seen from above): \S', drawing)
    assert classes <= STYLED, classes - STYLED
    assert classes & RED, "the flaw is marked"
    # Colours and weights come from the stylesheet alone; an id would be twice on one sheet.
    assert not re.search(r"\b(style|fill|stroke|stroke-width|id)=", drawing)
