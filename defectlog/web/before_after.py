"""Two photos of one face laid over each other, and what became of each mark."""

import io
from datetime import UTC, datetime

from flask import Blueprint, Response, flash, render_template, request, url_for
from flask.typing import ResponseReturnValue
from PIL import Image
from sqlalchemy.orm import Session

from defectlog.bench.before_after import (
    compare_photos,
    earlier_photos,
    laid_over,
    say_of_ghost,
    take_back,
)
from defectlog.errors import FieldError, NotFoundError
from defectlog.records import Said
from defectlog.web.once import save_once
from defectlog.web.records import reading, store

bp = Blueprint("before_after", __name__, url_prefix="/photos/<int:after>/before/<int:before>")

QUALITY = 86


@bp.get("/")
def show(after: int, before: int) -> ResponseReturnValue:
    """Both photos, to be wiped across or seen side by side."""
    pair = compare_photos(reading(), store(), after, before)
    return render_template(
        "photos/before_after.html",
        pair=pair,
        others=[photo for photo in earlier_photos(pair.after) if photo.id != before],
        said=list(Said),
    )


@bp.get("/laid.jpg")
def laid(after: int, before: int) -> Response:
    """The earlier photo as it lies over the later one."""
    picture = laid_over(reading(), store(), after, before)
    if picture is None:
        raise NotFoundError("picture of", f"photo {before} laid over photo {after}")
    file = io.BytesIO()
    Image.fromarray(picture).save(file, "JPEG", quality=QUALITY)
    response = Response(file.getvalue(), mimetype="image/jpeg")
    response.headers["Cache-Control"] = "private, no-cache"
    return response


@bp.post("/marks/<int:mark>")
def say(after: int, before: int, mark: int) -> ResponseReturnValue:
    """Say what the later photo shows of a mark, or take that back."""
    word = request.form.get("said", "")
    now = datetime.now(UTC)
    # Found, and kept, before the records are locked for writing: it takes its second.
    compare_photos(reading(), store(), after, before)

    def write(session: Session) -> str:
        if word == "take back":
            take_back(session, after, mark, now)
        else:
            look = say_of_ghost(session, store(), after, mark, _said(word), now)
            if look.carried is not None:
                flash("It is marked on the later photo now: open that one to draw its new size.")
        return url_for(".show", after=after, before=before, _anchor=f"mark-{mark}")

    return save_once(write)


def _said(word: str) -> Said:
    try:
        return Said(word)
    except ValueError:
        raise FieldError(
            "said", f"“{word[:20]}” says nothing of a mark", "choose gone, smaller or still there"
        ) from None
