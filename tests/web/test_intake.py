"""Photos through the web: a plain form, one by one from a script, and back out as pictures."""

import hashlib
import io
import re
import struct
import zlib
from urllib.parse import urlsplit

import pytest
from PIL import Image
from sqlalchemy import select

from defectlog.photos import LARGE
from defectlog.records import Build, Face, Photo, PhotoStage
from tests.builders import make_build

JSON = {"Accept": "application/json"}


@pytest.fixture
def records(app):
    return app.extensions["defectlog"][0]


@pytest.fixture
def store(app):
    return app.extensions["defectlog"][1]


@pytest.fixture
def build(records) -> int:
    with records.write() as session, session.begin():
        return make_build(session).id


def jpeg(shade: int = 130, size=(64, 48), **options: object) -> bytes:
    file = io.BytesIO()
    Image.new("RGB", size, (shade, shade, shade)).save(file, "JPEG", **options)
    return file.getvalue()


def send(client, build: int, *files: tuple[bytes, str], headers=None, **fields: str):
    sent = [(io.BytesIO(data), name) for data, name in files]
    fields = {"face": "tool side", "stage": "at demould"} | fields
    return client.post(f"/builds/{build}/photos", data={"photos": sent} | fields, headers=headers)


def photos(records) -> list[Photo]:
    with records.read() as session:
        return list(session.scalars(select(Photo).order_by(Photo.id)))


def said(client) -> list[tuple[str, str]]:
    with client.session_transaction() as session:
        return list(session.get("_flashes", []))


def giant_png() -> bytes:
    """A file of some 50 kB that says, truly, that it is a picture of 400 megapixels."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return (
            struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))
        )

    rows = zlib.compressobj(9)
    packed = b"".join(rows.compress(bytes(2501)) for _ in range(20_000)) + rows.flush()
    header = struct.pack(">IIBBBBB", 20_000, 20_000, 1, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", packed) + chunk(b"IEND", b"")
    )


def test_a_plain_form_saves_its_photos_and_goes_back_to_the_build(client, build, records):
    answer = send(client, build, (jpeg(90), "a.jpg"), (jpeg(91), "b.jpg"), face="bag side")

    assert answer.status_code == 303
    assert urlsplit(answer.location).path == f"/builds/{build}"
    assert [(photo.name, photo.face, photo.stage) for photo in photos(records)] == [
        ("a.jpg", Face.BAG, PhotoStage.DEMOULD),
        ("b.jpg", Face.BAG, PhotoStage.DEMOULD),
    ]
    assert [words.replace("\xa0", " ") for _, words in said(client)] == ["2 photos saved."]


def test_of_a_batch_the_good_ones_are_saved_and_the_broken_one_is_named(client, build, records):
    files = (jpeg(90), "a.jpg"), (jpeg(91)[:-40], "broken.jpg"), (jpeg(92), "c.jpg")

    answer = send(client, build, *files)

    assert answer.status_code == 303
    assert [photo.name for photo in photos(records)] == ["a.jpg", "c.jpg"]
    errors = [words for kind, words in said(client) if kind == "error"]
    assert len(errors) == 1
    assert errors[0].startswith("broken.jpg was not saved.")
    assert "damaged" in errors[0]


def test_a_photo_that_is_here_already_is_said_to_be(client, build, records):
    send(client, build, (jpeg(), "a.jpg"))

    send(client, build, (jpeg(), "b.jpg"))

    assert len(photos(records)) == 1
    assert said(client)[-1][1].replace("\xa0", " ") == "1 photo was here already."


def test_a_script_is_told_where_its_photo_is(client, build):
    answer = send(client, build, (jpeg(), "a.jpg"), headers=JSON)

    assert answer.status_code == 201
    assert answer.json["is_new"] is True
    assert answer.json["url"] == f"/photos/{answer.json['photo_id']}"
    assert answer.json["scale_words"]
    thumb = client.get(answer.json["thumb_url"])
    assert (thumb.status_code, thumb.mimetype) == (200, "image/jpeg")


@pytest.mark.parametrize("form", [str, str.upper])
def test_bytes_that_are_those_that_were_sent_are_taken(client, build, form):
    said = form(hashlib.sha256(jpeg()).hexdigest())

    assert send(client, build, (jpeg(), "a.jpg"), headers=JSON, sha256=said).status_code == 201


def test_bytes_changed_on_the_way_are_refused_and_nothing_is_kept(client, build, records, store):
    sent, came = jpeg(90), jpeg(91)

    answer = send(
        client, build, (came, "a.jpg"), headers=JSON, sha256=hashlib.sha256(sent).hexdigest()
    )

    assert (answer.status_code, answer.json["field"]) == (422, "sha256")
    assert "did not arrive as it was sent" in answer.json["what"]
    assert photos(records) == []
    assert [file for file in store.originals.folder.rglob("*") if file.is_file()] == []


@pytest.mark.parametrize("said", ["x", "g" * 64, "a" * 63, "a" * 65])
def test_a_hash_that_is_none_is_refused(client, build, records, said):
    answer = send(client, build, (jpeg(), "a.jpg"), headers=JSON, sha256=said)

    assert (answer.status_code, answer.json["field"]) == (400, "sha256")
    assert photos(records) == []


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_of_moving_pictures_the_first_is_shown_and_it_is_said(client, build, kind):
    frames = [Image.new("RGB", (64, 48), (shade, 60, 60)) for shade in (200, 20, 90)]
    file = io.BytesIO()
    frames[0].save(file, kind, save_all=True, append_images=frames[1:], lossless=True)

    answer = send(client, build, (file.getvalue(), "a.png"), headers=JSON)

    assert answer.json["note"] == "Of 3 moving pictures the first is shown, the file is kept whole."
    shown = Image.open(io.BytesIO(client.get(answer.json["thumb_url"]).data)).convert("RGB")
    assert abs(shown.getpixel((30, 20))[0] - 200) < 8
    assert send(client, build, (jpeg(), "a.jpg"), headers=JSON).json["note"] == ""


@pytest.mark.parametrize("colours", [1, 3])
def test_of_sixteen_bits_a_colour_eight_are_shown_and_it_is_said(client, build, colours):
    """A PNG by hand (PNG, third edition, 11.2): depth 16, every value 0x80ff."""

    def chunk(name: bytes, body: bytes) -> bytes:
        checked = zlib.crc32(name + body)
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", checked)

    header = struct.pack(">IIBBBBB", 64, 48, 16, 0 if colours == 1 else 2, 0, 0, 0)
    rows = (b"\0" + b"\x80\xff" * 64 * colours) * 48
    png = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header)
    png += chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")

    answer = send(client, build, (png, "a.png"), headers=JSON)

    assert answer.json["note"] == "Of its 16 bits a colour 8 are shown, the file is kept whole."
    shown = Image.open(io.BytesIO(client.get(answer.json["thumb_url"]).data)).convert("RGB")
    assert abs(shown.getpixel((30, 20))[0] - 128) < 4


def test_a_second_picture_behind_a_photo_is_no_animation(client, build):
    """As phones write them (CIPA DC-007): a depth map or a second exposure behind the photo."""
    file = io.BytesIO()
    Image.new("RGB", (64, 48)).save(
        file, "MPO", save_all=True, append_images=[Image.new("RGB", (64, 48), "white")]
    )

    answer = send(client, build, (file.getvalue(), "a.jpg"), headers=JSON)

    assert (answer.status_code, answer.json["note"]) == (201, "")


def test_the_same_photo_sent_again_answers_as_the_first_time(client, build, records):
    first = send(client, build, (jpeg(), "a.jpg"), headers=JSON)

    again = send(client, build, (jpeg(), "a.jpg"), headers=JSON)

    assert again.status_code == 200
    assert again.json["is_new"] is False
    assert again.json["photo_id"] == first.json["photo_id"]
    assert len(photos(records)) == 1


REFUSED = [
    (b"", "a.jpg", 400, "empty"),
    (b"just some words", "a.jpg", 415, "text"),
    (
        b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>',
        "a.jpg",
        415,
        "SVG",
    ),
    (b"%PDF-1.7\n", "a.jpg", 415, "PDF"),
    (b"\x00\x00\x00\x20ftypisom\x00\x00\x02\x00isomiso2avc1mp41", "a.heic", 415, "video"),
    (jpeg()[:-30], "a.jpg", 422, "damaged"),
    (giant_png(), "a.png", 413, "400 megapixels"),
]


@pytest.mark.parametrize(("data", "name", "status", "words"), REFUSED)
def test_what_is_no_photo_is_refused_in_words(
    client, build, records, store, data, name, status, words
):
    answer = send(client, build, (data, name), headers=JSON)

    assert answer.status_code == status
    assert words in answer.json["what"]
    assert answer.json["do"]
    assert photos(records) == []
    assert [path for path in store.originals.folder.rglob("*") if path.is_file()] == []
    assert send(client, build, (jpeg(), "good.jpg"), headers=JSON).status_code == 201


def test_a_file_above_the_limit_is_refused_by_its_bytes(client, build, store):
    store.originals.max_bytes = 2000

    answer = send(client, build, (jpeg(comment=b"x" * 3000), "a.jpg"), headers=JSON)

    assert answer.status_code == 413
    assert "limit" in answer.json["what"]


def test_a_request_above_the_limit_is_refused_whole(app, client, build, records):
    app.config["MAX_CONTENT_LENGTH"] = 1000

    answer = send(client, build, (jpeg(comment=b"x" * 3000), "a.jpg"), headers=JSON)

    assert answer.status_code == 413
    assert set(answer.json) >= {"what", "do"}
    assert photos(records) == []


def test_nothing_chosen_is_a_sentence(client, build):
    answer = send(client, build, (b"", ""), headers=JSON)

    assert answer.status_code == 400
    assert "No photo was chosen" in answer.json["what"]


@pytest.mark.parametrize("field", ["face", "stage"])
def test_a_face_or_stage_that_is_none_is_refused(client, build, records, field):
    answer = send(client, build, (jpeg(), "a.jpg"), headers=JSON, **{field: "upside <b>down</b>"})

    assert answer.status_code == 400
    assert answer.json["field"] == field
    assert photos(records) == []


def test_photos_for_a_build_that_is_not_there_are_refused(client, store):
    answer = send(client, 4711, (jpeg(), "a.jpg"), headers=JSON)

    assert answer.status_code == 404
    assert not [kept for kept in store.originals.folder.rglob("*") if kept.is_file()]


def test_every_record_has_its_file_after_any_order_of_faults(client, build, records, store):
    for shade in range(6):
        send(client, build, (jpeg(shade * 20), f"{shade}.jpg"), (b"junk", "junk.jpg"))

    kept = photos(records)
    assert len(kept) == 6
    assert all(store.originals.is_sound(photo.sha256) for photo in kept)


@pytest.fixture
def photo(client, build, records) -> Photo:
    exif = Image.Exif()
    exif[0x0112] = 6
    exif.get_ifd(0x8825).update({1: "N", 2: (12.0, 34.0, 56.0)})
    data = jpeg(size=(640, 480), exif=exif.tobytes(), comment=b"<script>comment</script>")
    send(client, build, (data, "../lid “1”.jpg"))
    return photos(records)[0]


@pytest.mark.parametrize(
    ("size", "shape"), [("thumb", (240, 320)), ("view", (480, 640)), ("large", (480, 640))]
)
def test_a_copy_is_upright_bare_and_harmless(client, photo, size, shape):
    answer = client.get(f"/photos/{photo.id}/image/{size}.jpg?v={photo.sha256[:12]}")

    assert answer.mimetype == "image/jpeg"
    with Image.open(io.BytesIO(answer.data)) as copy:
        assert copy.size == shape
        assert not dict(copy.getexif())
    assert b"script" not in answer.data
    assert answer.headers["Content-Security-Policy"] == "default-src 'none'; sandbox"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert "immutable" in answer.headers["Cache-Control"]
    assert "private" in answer.headers["Cache-Control"]
    assert "Set-Cookie" not in answer.headers


def test_without_its_content_in_the_address_a_copy_is_asked_for_again(client, photo):
    address = f"/photos/{photo.id}/image/view.jpg"
    answer = client.get(address)

    assert "immutable" not in answer.headers["Cache-Control"]
    again = client.get(address, headers={"If-None-Match": answer.headers["ETag"]})
    assert again.status_code == 304


def test_a_copy_that_was_lost_is_drawn_again(client, photo, store):
    address = f"/photos/{photo.id}/image/large.jpg"
    before = client.get(address).data
    store.rendition(photo.sha256, LARGE).unlink()

    assert client.get(address).data == before


def test_the_original_leaves_as_a_file_and_byte_for_byte(client, photo, store):
    answer = client.get(f"/photos/{photo.id}/original")

    assert answer.data == store.originals.read(photo.sha256)
    assert answer.mimetype == "application/octet-stream"
    assert re.fullmatch(
        rf"attachment; filename=build-{photo.build_id}-photo-{photo.id}\.jpg",
        answer.headers["Content-Disposition"],
    )
    assert "sandbox" in answer.headers["Content-Security-Policy"]


@pytest.mark.parametrize(
    "address",
    ["/photos/99/image/thumb.jpg", "/photos/99/original", "/photos/-1/original"],
)
def test_a_photo_that_is_not_there_is_not_found(client, address):
    assert client.get(address, headers=JSON).status_code == 404


@pytest.mark.parametrize("size", ["huge", "..%2f..%2fview", "thumb.jpg"])
def test_there_are_no_other_sizes(client, photo, size):
    assert client.get(f"/photos/{photo.id}/image/{size}.jpg", headers=JSON).status_code == 404


def test_a_photo_whose_file_is_lost_says_so(client, photo, store):
    store.originals.path(photo.sha256).unlink()

    answer = client.get(f"/photos/{photo.id}/original", headers=JSON)

    assert answer.status_code == 404
    assert "backup" in answer.json["do"]


def test_the_form_works_without_script(app, client, build):
    with app.test_request_context():
        from flask import render_template_string

        page = render_template_string(
            '{% from "intake/_form.html" import intake_form %}{{ intake_form(build) }}',
            build=Build(id=build),
        )

    assert f'action="/builds/{build}/photos"' in page
    assert 'enctype="multipart/form-data"' in page
    assert 'name="csrf_token"' in page
    assert 'capture="environment"' in page
    assert len(re.findall(r'<input type="file"[^>]*name="photos"', page)) == 2
    assert 'value="after trim"' in page
    assert 'value="tool side"' in page
    assert "onclick" not in page
    assert "style=" not in page


def test_a_post_without_its_token_changes_nothing(app, client, build, records):
    app.config["WTF_CSRF_ENABLED"] = True

    assert send(client, build, (jpeg(), "a.jpg"), headers=JSON).status_code == 400
    assert photos(records) == []
