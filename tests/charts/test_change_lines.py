"""The words of marked changes: none on another, no line through any, whatever the places."""

from hypothesis import given, settings
from hypothesis import strategies as st

from defectlog.charts.change_lines import lay_changes

LETTER, WIDTH = 15, 930


def struck(lines) -> list[tuple[str, float]]:
    """Words that a line passes through: it begins in their row or above, between their ends."""
    found = []
    for told in lines:
        length = 0.56 * LETTER * len(told.words)
        left = told.words_x if told.anchor == "start" else told.words_x - length
        found += [
            (told.words, line.x)
            for line in lines
            if line is not told and line.top <= told.top and left < line.x < left + length
        ]
    return found


def test_words_left_of_their_line_are_not_struck_by_the_line_before():
    # Eight builds on a desk's drawing: the last two changes are one strip of 108 apart, their
    # words longer than that, and the last ones have no place on the right.
    changes = [
        (489.0, "vacuum infusion"),
        (704.5, "tack adhesive: heavy"),
        (812.25, "tack adhesive: none"),
    ]

    top, lines = lay_changes(changes, letter=LETTER, width=WIDTH, above=12)

    assert struck(lines) == []
    assert top >= 12 + 2 * 1.35 * LETTER
    assert all(line.words_y < top for line in lines)


@settings(max_examples=200, deadline=None)
@given(
    st.lists(st.integers(2, 36), min_size=1, max_size=4, unique=True).map(sorted),
    st.lists(st.integers(4, 20), min_size=4, max_size=4),
)
def test_no_words_overlap_and_all_stay_on_the_drawing(strips, lengths):
    changes = [
        (58 + 24.0 * strip, "w" * long) for strip, long in zip(strips, lengths, strict=False)
    ]

    _, lines = lay_changes(changes, letter=LETTER, width=WIDTH, above=12)

    assert [line.words for line in lines] == [words for _, words in changes]
    assert struck(lines) == []
    spans = []
    for line in lines:
        length = 0.56 * LETTER * len(line.words)
        left = line.words_x if line.anchor == "start" else line.words_x - length
        assert left >= 0 and left + length <= WIDTH
        spans.append((line.top, left, left + length))
    for i, (top, left, right) in enumerate(spans):
        beside = [(a, b) for row, a, b in spans[i + 1 :] if row == top]
        assert not any(a < right and left < b for a, b in beside)
