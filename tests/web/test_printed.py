"""What the workshop prints: the print check and the dot sheet, over HTTP."""

import io

import pymupdf
import pytest

from defectlog.records import Photo, PrintCheck
from tests.dot_photo import photographed


def text(answer) -> str:
    return " ".join(answer.get_data(as_text=True).replace("\xa0", " ").split())


def test_a_print_check_is_kept_with_a_decimal_comma(client, kept):
    answer = client.post(
        "/workshop/print-check", data={"across_mm": "120,5", "down_mm": "120.5", "once": "a"}
    )

    assert answer.status_code == 303
    page = text(client.get("/workshop/print-check"))
    # 120.5 / 120 = 1.0042.
    assert "The card prints 0.4 % too large (120.5 mm across, 120.5 mm down)." in page
    assert kept(lambda s: s.query(PrintCheck).one().across_mm) == 120.5


@pytest.mark.parametrize(
    ("across", "down", "said"),
    [
        ("", "120", "Across: nothing is filled in"),
        ("120", "about 12 cm", "is not a number"),
        ("12", "120", "A check line of 12 mm is out of range"),
        ("1.200,5", "120", "more than one way"),
        ("120", "126", "differ by more than a printer"),
    ],
)
def test_lengths_that_cannot_be_are_refused_and_stay_typed(client, kept, across, down, said):
    answer = client.post(
        "/workshop/print-check", data={"across_mm": across, "down_mm": down, "once": "a"}
    )

    assert answer.status_code == 400
    assert said in text(answer)
    assert f'value="{down}"' in answer.get_data(as_text=True)
    assert kept(lambda s: s.query(PrintCheck).count()) == 0


def test_a_print_check_can_be_taken_back(client):
    client.post("/workshop/print-check", data={"across_mm": "121", "down_mm": "121", "once": "a"})

    answer = client.post("/workshop/print-check/forget", data={"once": "b"})

    assert answer.status_code == 303
    assert "Nothing was measured yet" in text(client.get("/workshop/print-check"))


def test_the_workshop_leads_to_both(client):
    page = client.get("/workshop/").get_data(as_text=True)

    assert "/workshop/print-check" in page and "/workshop/dot-sheet" in page


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_dot_sheet_comes_as_a_pdf(client, paper):
    answer = client.get(f"/workshop/dot-sheet/{paper}.pdf")

    assert answer.mimetype == "application/pdf"
    assert len(pymupdf.open(stream=answer.data, filetype="pdf")) == 1


def test_there_is_no_dot_sheet_for_other_paper(client):
    assert client.get("/workshop/dot-sheet/id1.pdf").status_code == 404


def test_a_photo_of_the_sheet_is_measured_and_nothing_is_kept(client, kept, app):
    photo = (io.BytesIO(photographed("a4", px_per_mm=9)), "dots.jpg")

    answer = client.post("/workshop/dot-sheet", data={"photo": photo})

    page = text(answer)
    assert answer.status_code == 200
    assert "The intervals of all 6 fields hold the printed share" in page
    assert "10.00 % printed" in page and "34 of 34 found" in page
    assert kept(lambda s: s.query(Photo).count()) == 0
    folder = app.config["RECORDS_FOLDER"] / "photos"
    assert not [file for file in folder.rglob("*") if file.suffix in (".jpg", ".jpeg")]


@pytest.mark.parametrize(
    ("data", "status", "said"),
    [
        ({}, 400, "No photo was chosen"),
        ({"photo": (io.BytesIO(b"words, no picture"), "x.jpg")}, 415, ""),
    ],
)
def test_what_is_no_photo_of_the_sheet_is_one_sentence_on_the_page(client, data, status, said):
    answer = client.post("/workshop/dot-sheet", data=data)

    assert answer.status_code == status
    assert said in text(answer) and 'role="alert"' in answer.get_data(as_text=True)
