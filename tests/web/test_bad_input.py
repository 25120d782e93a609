"""What careless hands and hostile programs send: a sentence each, and nothing kept of it."""

import io
import re
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from sqlalchemy import func, select

from defectlog.paths import web_folder
from defectlog.records import Build, BuildFact, Finding, Mark, Photo
from tests.builders import make_build, make_finding, make_part, make_photo

PHOTOS = Path(__file__).parent.parent / "photos"
JSON = {"Accept": "application/json"}


@pytest.fixture
def build(kept) -> int:
    return kept(lambda session: make_build(session).id)


@pytest.fixture
def photo(kept, build) -> int:
    return kept(lambda session: make_photo(session, session.get(Build, build)).id)


def jpeg(shade: int = 120, **more) -> bytes:
    file = io.BytesIO()
    Image.new("RGB", (64, 48), (shade, 90, 60)).save(file, "JPEG", **more)
    return file.getvalue()


def png_of(width: int, height: int) -> bytes:
    """A file that says it is so large, with next to nothing in it."""

    def chunk(name: bytes, body: bytes) -> bytes:
        checked = struct.pack(">I", zlib.crc32(name + body))
        return struct.pack(">I", len(body)) + name + body + checked

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    data = chunk(b"IDAT", zlib.compress(bytes(64)))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + data + chunk(b"IEND", b"")


def jpeg_of(width: int, height: int) -> bytes:
    """A JPEG whose frame header was rewritten to another size."""
    data = bytearray(jpeg())
    at = data.index(b"\xff\xc0") + 5
    data[at : at + 4] = struct.pack(">HH", height, width)
    return bytes(data)


def send(client, build: int, data: bytes, name: str = "a.jpg", media: str = "image/jpeg"):
    fields = {"face": "tool side", "photos": (io.BytesIO(data), name, media)}
    return client.post(f"/builds/{build}/photos", data=fields, headers=JSON)


def rows_of(kept, table) -> int:
    return kept(lambda session: session.scalar(select(func.count()).select_from(table)))


def heic_of(width: int, height: int) -> bytes:
    """A HEIC photo that says it is so large: ISO/IEC 14496-12 8.11.3 has box, version and size."""
    data = bytearray((PHOTOS / "upright.heic").read_bytes())
    at = data.index(b"ispe") + 8
    while at > 8:
        data[at : at + 8] = struct.pack(">II", width, height)
        at = data.find(b"ispe", at) + 8
    return bytes(data)


REFUSED = {
    "nothing at all": (b"", 400),
    "a web page": (b"<!doctype html><script>alert(1)</script>", 415),
    "a drawing with script": (b'<svg xmlns="http://www.w3.org/2000/svg"><script/></svg>', 415),
    "a page to print": (b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n", 415),
    "PostScript": (b"%!PS-Adobe-3.0 EPSF-3.0\n", 415),
    "a program": (b"MZ" + bytes(200), 415),
    "an archive": (b"PK\x03\x04" + bytes(200), 415),
    "a video": (b"\0\0\0 ftypisom\0\0\2\0isomiso2avc1mp41", 415),
    "a web page before a photo": (b"<html>" + jpeg(), 415),
    "a moving picture": (b"GIF89a" + bytes(200), 415),
    "a JPEG 2000 picture": (b"\0\0\0\x0cjP  \r\n\x87\n" + bytes(200), 415),
    "a camera's raw file": (b"II*\0\x10\0\0\0CR\x02\0" + bytes(200), 415),
    "noughts": (bytes(4_000_000), 415),
    "noise": (np.random.default_rng(7).bytes(500_000), 415),
    "the first four bytes of a photo": (b"\xff\xd8\xff\xe0" + bytes(1020), 422),
    "a PNG of 2 500 megapixels": (png_of(50_000, 50_000), 413),
    "a PNG as large as numbers go": (png_of(2**31 - 1, 2**31 - 1), 413),
    "a PNG without width": (png_of(0, 0), 422),
    "a JPEG of 4 290 megapixels": (jpeg_of(65_500, 65_500), 413),
    "a JPEG without height": (jpeg_of(64, 0), 422),
    "a JPEG cut in the middle": (jpeg()[: len(jpeg()) // 2], 422),
    "a JPEG without its end": (jpeg()[:-2], 422),
    "a HEIC of 3 600 megapixels": (heic_of(60_000, 60_000), 413),
    "a photo of 65 megapixels": (png_of(65_000, 1_000), 413),
    "a photo too long on one side": (png_of(30_001, 1), 413),
    "a colour profile of 2 MB": (jpeg(icc_profile=bytes(2 * 2**20)), 413),
    "a JPEG in thousands of pieces": (jpeg()[:2] + b"\xff\xe5\0\2" * 3000 + jpeg()[2:], 413),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_no_sound_photo_is_refused_and_leaves_nothing(app, client, build, kept, name):
    data, status = REFUSED[name]

    answer = send(client, build, data)

    assert answer.status_code == status, answer.json
    assert answer.json["what"] and answer.json["do"]
    assert rows_of(kept, Photo) == 0
    folder = app.extensions["defectlog"][1].originals.folder
    assert [file for file in folder.rglob("*") if file.is_file() and file.suffix == ".jpg"] == []
    assert send(client, build, jpeg()).status_code == 201


def with_exif(**fields) -> bytes:
    exif = Image.Exif()
    exif[0x010F] = fields.get("make", "")
    exif[0x0132] = fields.get("date", "")
    if "place" in fields:
        exif.get_ifd(0x8825).update({1: "N", 2: fields["place"], 3: "E", 4: (10.0, 0.0, 0.0)})
    return jpeg(exif=exif)


def strip(width: int, height: int) -> bytes:
    file = io.BytesIO()
    Image.new("RGB", (width, height), (90, 90, 90)).save(file, "JPEG")
    return file.getvalue()


# TIFF 6.0, 2: a directory at 8 of one entry, and after it the address of the next one: itself.
POINTING_AT_ITSELF = b"II*\0\x08\0\0\0" + struct.pack("<HHHIII", 1, 0x8769, 4, 1, 8, 8)

TAKEN = {
    "a PNG that is called a JPEG": None,
    "a strip one pixel high": strip(5000, 1),
    "a strip one pixel wide": strip(1, 5000),
    "a camera called a script": with_exif(make="<script>alert(1)</script>" * 400),
    "a date that is none": with_exif(date="2099:99:99 99:99:99"),
    "a place": with_exif(place=(54.0, 30.0, 12.25)),
    "an archive at its end": jpeg() + b"PK\x03\x04" + bytes(3000),
    "a film at its end": jpeg() + b"PK\x03\x04\0\0\0 ftypmp42" + bytes(3000),
    "camera notes that point to themselves": jpeg(exif=b"Exif\0\0" + POINTING_AT_ITSELF),
    "a broken colour profile": jpeg(icc_profile=b"nonsense" * 400),
}


@pytest.mark.parametrize("name", TAKEN)
def test_an_odd_photo_is_taken_and_nothing_odd_is_handed_on(client, build, name):
    data = TAKEN[name]
    if data is None:
        file = io.BytesIO()
        Image.new("RGB", (64, 48), (9, 9, 9)).save(file, "PNG")
        data = file.getvalue()
    answer = send(client, build, data)
    assert answer.status_code == 201
    page = client.get(answer.json["url"])
    assert page.status_code == 200 and b"<script>alert" not in page.data
    view = client.get(f"{answer.json['url']}/image/view.jpg").data
    assert b"PK\x03\x04" not in view and b"Exif" not in view
    assert not Image.open(io.BytesIO(view)).getexif()


@pytest.mark.parametrize(
    "name",
    [
        "../../x.jpg",
        "a\0b.jpg",
        "b" * 5000,
        "a\r\nSet-Cookie: x",
        "a\u202egpj.exe",
        "\U0001f6f6.jpg",
    ],
)
def test_a_files_name_is_only_a_label(client, build, kept, name):
    answer = send(client, build, jpeg(), name)
    if "\n" in name:  # it breaks the request apart before it is a name
        assert answer.status_code == 400
        return
    assert answer.status_code == 201
    label = kept(lambda session: session.scalar(select(Photo.name)))
    assert 0 < len(label) <= 120
    assert not set(label) & set("/\\\0\r\n\u202e")


@pytest.mark.parametrize("typed", ["NaN", "Infinity", "-1", "1e309", "two", "9" * 400])
def test_a_number_that_cannot_be_is_said_with_its_field_and_the_rest_kept(
    client, build, kept, typed
):
    fields = {"resin_temp_c": "19", "resin_mixed_g": typed, "once": "x"}
    answer = client.post(f"/builds/{build}/facts/resin", data=fields)
    assert answer.status_code == 400
    assert rows_of(kept, BuildFact) == 0


MARKS = {
    "an outline of two points": {"shape": "outline", "points": [[1, 1], [9, 9]]},
    "thousands of corners": {
        "shape": "outline",
        "points": [[i % 90, i // 90] for i in range(5001)],
    },
    "a point outside": {"shape": "point", "points": [[9000, 9000]]},
    "an hourglass": {"shape": "outline", "points": [[10, 10], [90, 90], [90, 10], [10, 90]]},
    "no points": {"shape": "outline"},
    "words for numbers": {"shape": "point", "points": [["a", "b"]]},
    "no number": {"shape": "point", "points": [[None, 1e400]]},
    "a list for an object": [1, 2, 3],
    "another role": {"shape": "blob", "points": [[1, 1]], "role": "keeper"},
}


@pytest.mark.parametrize("name", MARKS)
def test_what_is_no_mark_is_refused_in_words(client, photo, kept, name):
    sent = MARKS[name]
    if isinstance(sent, dict):
        sent = {"kind": "dry-spot"} | sent
    answer = client.post(f"/photos/{photo}/marks", json=sent, headers=JSON)
    assert answer.status_code in (400, 422), answer.json
    assert answer.json["what"] and answer.json["do"]
    assert rows_of(kept, Mark) == rows_of(kept, Finding) == 0


SPOT = '"kind": "dry-spot", "points": [[1, 1]], "shape": "point"'
SENT = {
    "a list": "[1, 2]",
    "a word": '"dry-spot"',
    "nothing": "null",
    "half an object": '{"kind": "dry-spot"',
    "thousands of brackets": "[" * 100_000,
    "half a letter": f'{{{SPOT}, "client_id": "\\ud800"}}',
    "a nought for a letter": f'{{{SPOT}, "client_id": "\\u0000"}}',
    "two of one name": f'{{{SPOT}, "shape": {{}}}}',
}


@pytest.mark.parametrize("name", SENT)
def test_what_no_script_of_ours_would_send_is_refused_everywhere(client, photo, kept, name):
    sent = {"data": SENT[name], "headers": JSON, "content_type": "application/json"}
    for to in ("marks", "scale", "measurements", "live"):
        answer = client.post(f"/photos/{photo}/{to}", **sent)
        assert 400 <= answer.status_code < 500, to
        assert answer.json["what"] and answer.json["do"]
    assert rows_of(kept, Mark) == 0


@pytest.mark.parametrize("typed", ["tacky\0", "w" * 201_000, "w" * 1_100_000])
def test_a_remark_that_is_no_text_or_a_book_is_refused_and_the_old_one_kept(
    client, build, kept, typed
):
    kept(lambda session: setattr(session.get(Build, build), "note", "as planned"))
    form = {"note": typed, "seen": "as planned"}
    answer = client.post(f"/builds/{build}/note", data=form, headers=JSON)
    assert answer.status_code in (400, 413)
    assert answer.json["what"] and answer.json["do"]
    assert kept(lambda session: session.get(Build, build).note) == "as planned"


def test_more_than_is_taken_in_one_go_is_told_with_how_much_that_is(client, build):
    note = client.post(f"/builds/{build}/note", data={"note": "w" * 1_100_000}, headers=JSON)
    sheet = {"photo": (io.BytesIO(bytes(66 * 2**20)), "sheet.jpg")}
    dots = client.post("/workshop/dot-sheet", data=sheet, headers=JSON)

    assert (note.status_code, dots.status_code) == (413, 413)
    assert note.json["what"] == "That was more than is taken in one go, 1 MiB here"
    assert dots.json["what"] == "That was more than is taken in one go, 65 MiB here"


def test_a_form_cut_off_on_its_way_changes_nothing(client, build, kept):
    head = b'--x\r\nContent-Disposition: form-data; name="photos"; filename="a.jpg"\r\n\r\n'
    sent = {"content_type": "multipart/form-data; boundary=x", "headers": JSON}
    for data in (head + jpeg(), head + jpeg()[:300], head[:40], b""):
        answer = client.post(f"/builds/{build}/photos", data=data, **sent)
        assert answer.status_code == 400 and answer.json["do"]
    assert rows_of(kept, Photo) == 0


def test_no_form_of_the_app_ends_in_a_fault_of_ours_whatever_is_typed(app, client, photo, kept):
    fields = set()
    for file in web_folder("templates").rglob("*.html"):
        fields |= set(re.findall(r'name="(\w+)"', file.read_text(encoding="utf-8")))
    assert len(fields) > 20
    # Whatever takes things away comes last.
    addresses = sorted(
        (re.sub("<[^>]+>", "1", rule.rule) for rule in app.url_map.iter_rules()
         if "POST" in rule.methods),
        key=lambda address: bool(re.search("delete|empty|forget|remove|leave|all-off", address)),
    )  # fmt: skip
    for typed in ("a\0b", "=1+1", "\u202e<script>", "1e309"):
        form = dict.fromkeys(fields, typed)
        for address in addresses:
            answer = client.post(address, data=form, headers=JSON)
            assert answer.status_code < 500, (address, typed)
            answer.close()


def test_a_scale_between_one_place_and_itself_is_refused(client, photo):
    sent = {"points": [[5, 5], [5, 5]], "length_mm": "50"}
    assert client.post(f"/photos/{photo}/scale", json=sent, headers=JSON).status_code == 400


# Files, and whether a device came in by a code: nobody did by one that is not there.
NUMBERLESS = {"static", "devices.code_state"}


@pytest.mark.parametrize("number", ["-1", "0", str(2**63), "abc", "%00", "..%2f..%2fetc"])
def test_a_number_that_nothing_has_is_not_found_on_any_address(app, client, number):
    for rule in app.url_map.iter_rules():
        if "GET" not in rule.methods or not rule.arguments or rule.endpoint in NUMBERLESS:
            continue
        address = rule.rule
        for part in address.split("/"):
            if part.startswith("<"):
                address = address.replace(part, number, 1)
        assert client.get(address).status_code in (400, 404, 405), (rule.rule, number)


@pytest.mark.parametrize(
    "words", ["'; DROP TABLE part", "%", "_", '"', "NEAR(", "x" * 10_000, "\0"]
)
def test_a_search_for_anything_is_answered(client, words):
    assert client.get("/guide/", query_string={"words": words}).status_code in (200, 400)


def test_an_address_for_another_host_is_refused_everywhere(app, client):
    for rule in app.url_map.iter_rules():
        if "GET" in rule.methods and not rule.arguments:
            answer = client.get(rule.rule, headers={"Host": "elsewhere.example"})
            assert answer.status_code == 400, rule.rule
            assert "elsewhere.example" not in answer.headers.get("Location", "")


def test_words_in_a_name_stay_words_on_every_page(client, kept):
    name = '<img src=x onerror="alert(1)">'

    def fill(session):
        build = make_build(session, make_part(session, name))
        make_finding(session, make_photo(session, build))

    kept(fill)
    for address in ("/", "/builds/", "/builds/1", "/findings/", "/findings/1", "/photos/",
                    "/trends/?part=1", "/workshop/"):  # fmt: skip
        page = client.get(address, follow_redirects=True)
        assert page.status_code == 200, address
        assert b"<img src=x" not in page.data, address


def test_a_photo_whose_file_is_lost_still_has_a_page(client, photo):
    assert client.get(f"/photos/{photo}").status_code == 200


@pytest.mark.parametrize("harm", ["lost", "cut", "deleted"])
def test_a_photo_that_came_to_harm_is_answered_for_everywhere(app, client, build, harm):
    at = send(client, build, jpeg()).json["url"]
    store = app.extensions["defectlog"][1]
    original = store.originals.path(next(store.originals.kept()))
    for copy in original.parent.glob("*-*.jpg"):
        copy.unlink()
    if harm == "lost":
        original.unlink()
    elif harm == "cut":
        original.write_bytes(original.read_bytes()[:300])
    else:
        assert client.post(f"{at}/delete").status_code == 303

    for address in ("/", f"/builds/{build}", "/photos/", at, f"{at}/image/thumb.jpg",
                    f"{at}/image/view.jpg", f"{at}/original"):  # fmt: skip
        assert client.get(address).status_code in (200, 404, 422), address
    measured = client.post(f"{at}/measurements", json={}, headers=JSON)
    assert 400 <= measured.status_code < 500 and measured.json["do"]
    assert client.get(f"/builds/{build}/demould-report.pdf").status_code in (200, 404)
