"""Every kind of the guide on one sheet of paper, with all a maker needs at the part."""

from functools import cache

import pytest

from defectlog.guide import kinds

pytestmark = pytest.mark.browser

# The longest of all, which fill the sheet, are held against the shorter paper too.
LONGEST = ("peel-tear", "pinholes-tool", "skin-core", "blister")
SMALLEST_PT = 7.95  # 8 pt, less what the printer's rounding takes


@pytest.fixture(scope="module")
def printer(chromium, address):
    """Prints a page of the guide and opens it again; one browser page for all."""
    pymupdf = pytest.importorskip("pymupdf", reason="pymupdf reads the printed sheet")
    page = chromium.new_page()

    @cache
    def print_kind(key, paper="A4"):
        page.goto(f"{address}/guide/{key}")
        return pymupdf.open(stream=page.pdf(format=paper))

    yield print_kind
    page.close()


def squeezed(text):
    """Without any white space: where a line was broken does not matter."""
    return "".join(text.split())


@pytest.mark.parametrize("kind", kinds(), ids=lambda kind: kind.key)
def test_a_kind_is_printed_on_one_sheet_whole(printer, kind):
    printed = printer(kind.key)
    assert printed.page_count == 1
    told = squeezed(printed[0].get_text())

    for caution in kind.cautions:
        assert told.count(squeezed(caution.say)) == 1, "each caution is said once, in full"
    for fix in kind.fixes:
        for step in fix.steps:
            place = told.index(squeezed(step.do))
            for caution in step.cautions:
                assert told.index(squeezed(caution.say)) < place, "and before its step"
                mind = squeezed(caution.title.lower())
                assert mind in told[max(0, place - 120) : place], "where it is named again"
        for line in (*fix.not_when, *fix.reinspect):
            assert squeezed(line) in told
    for cause in kind.causes:
        assert squeezed(cause.title) in told
        assert squeezed(cause.why) in told
        assert all(squeezed(check.do) in told for check in cause.checks)
    for other in kind.unlike:
        assert squeezed(other.tell) in told
    for prevention in kind.preventions:
        assert squeezed(prevention.do) in told
    assert squeezed("First: hold the part?") in told
    assert squeezed("What in the build speaks") not in told  # a fold paper cannot open


@pytest.mark.parametrize("key", LONGEST)
def test_the_longest_fit_on_letter_paper_too(printer, key):
    assert printer(key, "Letter").page_count == 1


@pytest.mark.parametrize("key", [*LONGEST, "warp"])
def test_nothing_on_the_sheet_is_smaller_than_eight_points(printer, key):
    # The drawing counts: its words say what one looks at.
    printed = printer(key)
    spans = (
        span
        for block in printed[0].get_text("dict")["blocks"]
        for line in block.get("lines", ())
        for span in line["spans"]
    )

    assert [one["text"] for one in spans if one["size"] < SMALLEST_PT and one["text"].strip()] == []
