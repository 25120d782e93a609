"""Photos are taken in whole, once, with their scale, and never as a record without a file."""

import io
from pathlib import Path

import numpy as np
import pymupdf
import pytest
from PIL import Image
from sqlalchemy import func, select

from defectlog.bench.intake import Intake, keep_file, label, record, take_in
from defectlog.bench.sizes import scale_of
from defectlog.errors import NotFoundError
from defectlog.photos import DamagedPhotoError, ForeignFileError, PhotoStore, StorageFaultError
from defectlog.records import Face, Photo, PhotoStage
from defectlog.report import scale_card_pdf
from tests.builders import NOON, make_build


@pytest.fixture
def store(tmp_path: Path) -> PhotoStore:
    return PhotoStore(tmp_path / "photos")


def picture(shade: int = 130, *, size=(400, 300), orientation: int = 1) -> bytes:
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x0132] = "2026:03:02 09:12:00"
    file = io.BytesIO()
    Image.new("RGB", size, (shade, shade, shade)).save(file, "JPEG", exif=exif.tobytes())
    return file.getvalue()


def card_photo(*, turned: bool = False) -> bytes:
    """The printed A4 card at 254 dpi, so 10 pixels a millimetre, as a camera would file it."""
    page = pymupdf.open(stream=scale_card_pdf("a4"), filetype="pdf")[0]
    pixmap = page.get_pixmap(dpi=254, colorspace=pymupdf.csRGB)
    seen = Image.frombytes("RGB", (pixmap.width, pixmap.height), pixmap.samples)
    exif = Image.Exif()
    if turned:
        exif[0x0112] = 6
        seen = seen.transpose(Image.Transpose.ROTATE_90)
    file = io.BytesIO()
    seen.save(file, "JPEG", quality=92, exif=exif.tobytes())
    return file.getvalue()


def take(session, store, build, data: bytes, **more) -> Intake:
    words = {"name": "hatch.jpg", "face": Face.TOOL, "stage": PhotoStage.DEMOULD, "at": NOON}
    return take_in(session, store, build.id, data, **(words | more))


def test_a_photo_is_kept_and_recorded_upright(session, store):
    build = make_build(session)
    data = picture(orientation=6)

    photo = take(session, store, build, data).photo
    session.flush()

    assert (photo.width_px, photo.height_px) == (300, 400)
    assert photo.media_type == "image/jpeg"
    assert photo.bytes == len(data)
    assert photo.taken_at == "2026-03-02 09:12:00"
    assert photo.received_at == NOON
    assert store.originals.read(photo.sha256) == data
    session.refresh(build)
    assert build.photos == [photo]


@pytest.mark.parametrize("turned", [False, True])
def test_the_card_in_the_picture_gives_the_scale(session, store, turned):
    photo = take(session, store, make_build(session), card_photo(turned=turned)).photo
    session.commit()
    session.refresh(photo)

    scale = scale_of(photo)

    # 254 pixels an inch are 10 pixels a millimetre. The card is 100 mm × 80 mm, 55 mm from the left
    # edge of an A4 page and 40 mm from its top.
    assert scale.source == "card"
    assert scale.px_per_mm == pytest.approx(10, rel=2e-3)
    corner, opposite = np.array(scale.card_outlines[0])[[0, 2]]
    assert corner == pytest.approx((550, 400), abs=2)
    assert opposite == pytest.approx((1550, 1200), abs=2)
    assert scale.length_mm([(550, 400), (1550, 400)]) == pytest.approx(100, rel=2e-3)


def test_a_photo_without_the_card_says_that_it_has_no_scale(session, store):
    photo = take(session, store, make_build(session), picture()).photo

    assert photo.scale.source == "none"
    assert photo.scale.px_per_mm is None


def test_the_same_photo_twice_in_a_build_is_one_photo(session, store):
    build = make_build(session)

    first = take(session, store, build, picture())
    session.flush()
    again = take(session, store, build, picture(), name="copy of hatch.jpg", face=Face.BAG)
    session.flush()

    assert (first.is_new, again.is_new) == (True, False)
    assert again.photo is first.photo
    assert again.photo.face is Face.TOOL
    assert session.scalar(select(func.count()).select_from(Photo)) == 1


def test_the_same_photo_in_two_builds_is_two_records_of_one_file(session, store):
    one = make_build(session)
    other = make_build(session, one.part)

    first = take(session, store, one, picture()).photo
    second = take(session, store, other, picture()).photo
    session.flush()

    assert first.id != second.id
    assert first.sha256 == second.sha256


def test_a_deleted_photo_sent_again_is_back(session, store):
    build = make_build(session)
    photo = take(session, store, build, picture()).photo
    photo.deleted_at = NOON
    session.flush()

    again = take(session, store, build, picture(), face=Face.BAG)
    session.flush()

    assert again.photo is photo
    assert again.is_new
    assert (photo.deleted_at, photo.face) == (None, Face.BAG)


@pytest.mark.parametrize(
    ("data", "refusal"),
    [(b"not a photo", ForeignFileError), (picture()[:-50], DamagedPhotoError)],
)
def test_what_is_refused_leaves_neither_file_nor_record(session, store, data, refusal):
    build = make_build(session)

    with pytest.raises(refusal):
        take(session, store, build, data)

    assert session.scalar(select(func.count()).select_from(Photo)) == 0
    assert [path for path in store.originals.folder.rglob("*") if path.is_file()] == []


def test_a_photo_for_no_build_is_not_recorded(session, store):
    with pytest.raises(NotFoundError):
        take_in(
            session,
            store,
            77,
            picture(),
            name="x",
            face=Face.TOOL,
            stage=PhotoStage.DEMOULD,
            at=NOON,
        )


def test_without_a_disk_there_is_no_record(session, store):
    build = make_build(session)
    store.originals.folder.write_text("a file stands where the folder should be")

    with pytest.raises(StorageFaultError):
        take(session, store, build, picture())

    assert session.scalar(select(func.count()).select_from(Photo)) == 0


def test_the_file_is_kept_whole_before_the_records_are_touched(session, store):
    # The slow part gets no session at all, so it can neither lock nor write the records; a crash
    # right after it leaves the file, sound, and no record.
    data = picture()

    arrival = keep_file(store, data)

    assert store.originals.is_sound(arrival.sha256)
    assert session.scalar(select(func.count()).select_from(Photo)) == 0
    build = make_build(session)
    told = {"name": "a", "face": Face.TOOL, "stage": PhotoStage.DEMOULD, "at": NOON}
    assert record(session, build.id, arrival, **told).is_new


@pytest.mark.parametrize("size", [(1, 1), (7, 3), (3000, 2), (2, 3000)])
def test_very_small_and_very_narrow_pictures_are_photos_too(session, store, size):
    photo = take(session, store, make_build(session), picture(size=size)).photo

    assert (photo.width_px, photo.height_px) == size


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("lid 14.jpg", "lid 14.jpg"),
        ("../../etc/passwd\x00.jpg", "passwd.jpg"),
        ("C:\\photos\\lid.jpg", "lid.jpg"),
        ("lid\r\nSet-Cookie: x.jpg", "lidSet-Cookie: x.jpg"),
        ("gpj\u202e.exe", "gpj.exe"),
        ("", "photo"),
        ("\u200b", "photo"),
        ("x" * 5000, "x" * 120),
        ("Lukendeckel – Süd.jpg", "Lukendeckel – Süd.jpg"),
    ],
)
def test_a_file_name_is_only_a_label(name, shown):
    assert label(name) == shown
