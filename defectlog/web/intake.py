"""Photos on their way in, from a form or one by one from a script, and out again as pictures."""

import re
from datetime import UTC, datetime
from enum import Enum
from typing import TypeVar

from flask import (
    Blueprint,
    Response,
    flash,
    jsonify,
    redirect,
    render_template,
    request,
    send_file,
    url_for,
)
from flask.blueprints import BlueprintSetupState
from flask.typing import ResponseReturnValue
from sqlalchemy.exc import IntegrityError
from werkzeug.datastructures import FileStorage

from defectlog.bench.intake import Intake, keep_file, label, record
from defectlog.bench.room import scale_words
from defectlog.errors import FieldError, NotFoundError
from defectlog.photos.refusals import PhotoRefusedError, StorageFaultError
from defectlog.photos.renditions import SIZES
from defectlog.records import Build, Face, Photo, PhotoStage
from defectlog.units import plural
from defectlog.web.bounds import BATCH_BYTES, takes_up_to
from defectlog.web.door import not_in_the_clear
from defectlog.web.faults import wants_json
from defectlog.web.once import keep_token, targets_of
from defectlog.web.records import reading, store, transaction

bp = Blueprint("intake", __name__)

# A picture that somehow came to be read as a page may do nothing and load nothing.
PICTURE_POLICY = "default-src 'none'; sandbox"
FOR_GOOD = "private, max-age=31536000, immutable"

MOST_TOKENS = 200  # asked about at once
_SHA256 = re.compile(r"[0-9a-f]{64}")

_Word = TypeVar("_Word", bound=Enum)


@bp.record
def _share(state: BlueprintSetupState) -> None:
    """Give the templates the words of the form and the addresses of pictures."""
    state.app.jinja_env.globals.update(
        photo_faces=tuple((face.value, face.value.capitalize()) for face in Face),
        photo_stages=tuple((stage.value, stage.value.capitalize()) for stage in PhotoStage),
        image_url=image_url,
    )


def image_url(photo: Photo, size: str) -> str:
    """The address of a copy of a photo; browsers may keep what is there for good."""
    return copy_url(photo.id, photo.sha256, size)


def copy_url(number: int, sha256: str, size: str) -> str:
    """The same, where only the number and the hash of the photo are known."""
    return url_for("intake.image", number=number, size=size, v=sha256[:12])


@bp.post("/builds/<int:number>/photos")
@takes_up_to(BATCH_BYTES)
def take(number: int) -> ResponseReturnValue:
    """Take in one photo or many; every photo is saved or refused on its own."""
    if reading().get(Build, number) is None:
        raise NotFoundError("build", number)
    files = [file for file in request.files.getlist("photos") if file.filename]
    if not files:
        raise FieldError("photos", "No photo was chosen", "choose one or more, or take one")
    face = _word(Face, "face", Face.OTHER)
    stage = _word(PhotoStage, "stage", PhotoStage.DEMOULD)
    if wants_json():
        return _take_one(number, files, face, stage)

    saved = known = 0
    for file in files:
        try:
            _, is_new = _take(number, file, face, stage)
        except (PhotoRefusedError, StorageFaultError) as error:
            flash(f"{label(file.filename or '')} was not saved. {error}", "error")
            continue
        saved += is_new
        known += not is_new
    if saved:
        flash(f"{plural(saved, 'photo')} saved.")
    if known:
        flash(f"{plural(known, 'photo')} {'was' if known == 1 else 'were'} here already.")
    return redirect(f"{url_for('builds.show', number=number)}#photos", 303)


def _take_one(
    number: int, files: list[FileStorage], face: Face, stage: PhotoStage
) -> ResponseReturnValue:
    if len(files) != 1:
        raise FieldError("photos", "More than one photo came at once", "send them one by one")
    answer, is_new = _take(number, files[0], face, stage)
    return jsonify(answer), 201 if is_new else 200


def _take(
    number: int, file: FileStorage, face: Face, stage: PhotoStage
) -> tuple[dict[str, object], bool]:
    """Take one photo in, once for each token it is sent with."""
    token = request.form.get("once", "")[:64]
    if before := received([token]):
        return before[token], False
    # The file is read and kept before the records are locked for writing.
    arrival = keep_file(store(), file.stream, sha256=_sent_hash())
    try:
        with transaction() as session:
            intake = record(
                session,
                number,
                arrival,
                name=file.filename or "",
                face=face,
                stage=stage,
                at=datetime.now(UTC),
            )
            session.flush()
            answer = _answer(intake)
            if intake.note and not wants_json():
                flash(f"{label(file.filename or '')}: {intake.note}")
            keep_token(session, token, str(answer["url"]))
    except IntegrityError:
        # The same photo came twice at once; the other one is in.
        if not (before := received([token])):
            raise
        return before[token], False
    return answer, intake.is_new


def _answer(intake: Intake) -> dict[str, object]:
    photo = intake.photo
    return {
        "photo_id": photo.id,
        "url": f"/photos/{photo.id}",
        "thumb_url": image_url(photo, "thumb"),
        "is_new": intake.is_new,
        "scale_words": scale_words(photo.scale),
        "note": intake.note,
    }


def _sent_hash() -> str:
    """What the script that sends a photo says its bytes have; a plain form says nothing."""
    sent = request.form.get("sha256", "").lower()
    if sent and not _SHA256.fullmatch(sent):
        raise FieldError(
            "sha256", "The hash sent with the photo is none", "send 64 hexadecimal digits, or none"
        )
    return sent


@bp.get("/photos/received")
def arrived() -> ResponseReturnValue:
    """Which photos of an outbox are here already, by the tokens they are sent with."""
    return jsonify(received=received(request.args.getlist("once")[:MOST_TOKENS]))


def received(tokens: list[str]) -> dict[str, dict[str, object]]:
    """What was answered for each token under which a photo came in before."""
    known = {}
    for token, target in targets_of(tokens).items():
        number = target.removeprefix("/photos/")
        photo = reading().get(Photo, int(number)) if number.isdecimal() else None
        if photo is not None:
            known[token] = _answer(Intake(photo, is_new=False))
    return known


@bp.get("/photos/outbox")
def outbox() -> ResponseReturnValue:
    """The photos this browser has not sent yet; the page's script knows them."""
    return render_template("intake/outbox.html")


@bp.get("/builds/<int:number>/run")
def run(number: int) -> ResponseReturnValue:
    """Photograph the faces of a build one after another."""
    build = reading().get(Build, number)
    if build is None:
        raise NotFoundError("build", number)
    return render_template("intake/run.html", build=build)


@bp.get("/photos/<int:number>/image/<size>.jpg")
def image(number: int, size: str) -> Response:
    """A copy of a photo for the screen."""
    if size not in SIZES:
        raise NotFoundError("picture size", size)
    photo = _photo(number)
    # Made absolute, for Flask would look for a relative path in its own folder.
    path = store().rendition(photo.sha256, SIZES[size]).absolute()
    response = send_file(path, "image/jpeg", etag=f"{photo.sha256}-{size}", max_age=0)
    # A number may come to mean another photo when records are restored; its content may not.
    is_for_good = request.args.get("v") == photo.sha256[:12]
    response.headers["Cache-Control"] = FOR_GOOD if is_for_good else "private, no-cache"
    return as_picture(response)


@bp.get("/photos/<int:number>/original")
@not_in_the_clear
def original(number: int) -> Response:
    """The bytes as they came, with all the camera wrote into them, to be kept as a file."""
    photo = _photo(number)
    path = store().originals.path(photo.sha256).absolute()
    response = send_file(
        path,
        "application/octet-stream",
        as_attachment=True,
        download_name=f"build-{photo.build_id}-photo-{photo.id}{path.suffix}",
        etag=photo.sha256,
        max_age=0,
    )
    response.headers["Cache-Control"] = "private, no-cache"
    return as_picture(response)


def _photo(number: int) -> Photo:
    photo = reading().get(Photo, number)
    if photo is None:
        raise NotFoundError("photo", number)
    return photo


def as_picture(response: Response) -> Response:
    """An answer that is a picture and nothing else, whatever a browser makes of it."""
    response.headers["Content-Security-Policy"] = PICTURE_POLICY
    response.headers["X-Content-Type-Options"] = "nosniff"
    return response


def _word(words: type[_Word], field: str, otherwise: _Word) -> _Word:
    """One of the words of a field of the form; a form without the field means ``otherwise``."""
    said = request.form.get(field)
    if said is None:
        return otherwise
    try:
        return words(said)
    except ValueError:
        allowed = ", ".join(str(word.value) for word in words)
        raise FieldError(
            field, f"“{label(said)[:40]}” is no {field} of a photo", f"choose one of {allowed}"
        ) from None
