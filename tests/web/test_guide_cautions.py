"""Every caution stands where the step is and before it, on every page of the guide."""

from html.parser import HTMLParser

import pytest

from defectlog.guide import kinds, library

VOID = {"meta", "link", "input", "br", "img", "path", "circle", "rect", "line", "polyline"}


class Outline(HTMLParser):
    """The text of a page in order, each piece with the ids and classes it stands in."""

    def __init__(self, text):
        super().__init__()
        self.pieces, self._open = [], []
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        if tag not in VOID:
            named = dict(attributes)
            words = [named.get("id") or "", *(named.get("class") or "").split()]
            self._open.append((tag, {tag, *words}))

    def handle_endtag(self, tag):
        while self._open and tag not in VOID:
            if self._open.pop()[0] == tag:
                return

    def handle_data(self, data):
        if said := " ".join(data.split()):
            self.pieces.append((said, set().union(*(marks for _, marks in self._open))))

    def first(self, words, within):
        """The place of the first piece with these words inside an element of this id or class."""
        words = " ".join(words.split())
        held = (
            i for i, (said, marks) in enumerate(self.pieces) if within in marks and words in said
        )
        return next(held)


@pytest.fixture
def outline(client):
    return lambda key: Outline(client.get(f"/guide/{key}").get_data(as_text=True))


@pytest.mark.parametrize("one", kinds(), ids=lambda one: one.key)
def test_the_cautions_of_a_fix_are_said_in_it_before_the_first_step_that_needs_them(outline, one):
    page = outline(one.key)
    for fix in one.fixes:
        place = f"fix-{fix.key}"
        for step in fix.steps:
            for caution in step.cautions:
                assert page.first(caution.say, place) < page.first(step.do, place)


@pytest.mark.parametrize("one", kinds(), ids=lambda one: one.key)
def test_the_cautions_of_a_check_are_said_with_its_cause_before_what_to_do(outline, one):
    page = outline(one.key)
    for cause in one.causes:
        place = f"cause-{cause.key}"
        for check in cause.checks:
            for caution in check.cautions:
                assert page.first(caution.say, place) < page.first(check.do, place)


@pytest.mark.parametrize("one", kinds(), ids=lambda one: one.key)
def test_the_cautions_of_a_quick_test_are_said_before_it_is_told(outline, one):
    page = outline(one.key)
    for other in one.unlike:
        for caution in other.test.cautions if other.test else ():
            assert page.first(caution.say, "apart") < page.first(other.test.how, "apart")


@pytest.mark.parametrize("one", kinds(), ids=lambda one: one.key)
def test_no_caution_is_left_for_the_foot_of_the_page(outline, one):
    page = outline(one.key)
    last = max(i for i, (_, marks) in enumerate(page.pieces) if "steps" in marks)
    said = {caution.say for caution in library.shared().cautions.values()}

    assert not [words for words, _ in page.pieces[last + 1 :] if words in said]


@pytest.mark.parametrize("one", kinds(), ids=lambda one: one.key)
def test_the_fix_can_be_jumped_to_from_the_head_of_the_page(outline, client, one):
    text = client.get(f"/guide/{one.key}").get_data(as_text=True)

    assert text.index('href="#fix"') < text.index('id="apart"' if one.unlike else 'id="causes"')
