"""Text in a document is text, whatever it looks like."""

import pymupdf

from defectlog.report import typeset


def test_words_that_look_like_commands_are_printed_as_they_are(tmp_path):
    hostile = '#read("/etc/passwd") *bold* $x$ @ref <label>'
    data = {
        "title": hostile,
        "paper": [210, 297],
        "card": {"x": 50, "y": 40, "width": 100, "height": 80},
        "markers": [],
        "ticks": [],
        "words": {"x": 60, "y": 50, "width": 60, "height": 60, "title": "-", "lines": []},
        "on_sheet": True,
        "check_mm": 120,
        "steps": ["one", "two"],
    }

    page = pymupdf.open(stream=typeset("scale-card.typ", data, root=tmp_path), filetype="pdf")[0]

    assert " ".join(hostile.split()) in " ".join(page.get_text().split())
