"""Files that no record speaks of are counted at the start, and left where they are."""

import io
import logging

from PIL import Image

from defectlog.bench.intake import take_in
from defectlog.bench.strays import count_strays
from defectlog.photos import PhotoStore
from defectlog.records import Face, PhotoStage
from defectlog.web import create_app
from tests.builders import NOON, make_build


def picture(shade: int) -> bytes:
    file = io.BytesIO()
    Image.new("RGB", (60, 40), (shade, shade, shade)).save(file, "JPEG")
    return file.getvalue()


def leave_behind(store: PhotoStore, data: bytes) -> str:
    """What a kill leaves: the file is an original, and its record was never made."""
    with store.originals.receive(io.BytesIO(data)) as incoming:
        store.originals.keep(incoming)
    return incoming.sha256


def take(session, store, build, shade):
    words = {"name": "lid.jpg", "face": Face.TOOL, "stage": PhotoStage.DEMOULD, "at": NOON}
    return take_in(session, store, build.id, picture(shade), **words).photo


def test_only_files_without_a_record_are_counted(session, tmp_path):
    store = PhotoStore(tmp_path / "photos")
    build = make_build(session)
    take(session, store, build, 100)
    deleted = take(session, store, build, 110)
    deleted.deleted_at = NOON
    session.flush()
    assert count_strays(session, store) == 0

    leave_behind(store, picture(120))

    assert count_strays(session, store) == 1


def test_a_start_says_how_many_there_are_and_deletes_none(tmp_path, caplog):
    sha256 = leave_behind(PhotoStore(tmp_path / "photos"), picture(120))

    with caplog.at_level(logging.WARNING, "defectlog"):
        create_app(tmp_path)

    assert "1 photo file in" in caplog.text and "no record" in caplog.text
    assert PhotoStore(tmp_path / "photos").originals.exists(sha256)


def test_a_start_without_any_says_nothing(tmp_path, caplog):
    with caplog.at_level(logging.WARNING, "defectlog"):
        create_app(tmp_path)

    assert caplog.text == ""
