"""Errors on screen: one sentence that says what is so and what to do, with its status."""

import logging
from collections.abc import Iterator
from http import HTTPStatus

from flask import Flask, jsonify, render_template, request
from flask.typing import ResponseReturnValue
from flask_wtf.csrf import CSRFError
from sqlalchemy.exc import DataError, OperationalError
from werkzeug.exceptions import HTTPException, SecurityError

from defectlog.bench.knowledge_file import KnowledgeTooLargeError
from defectlog.bench.pairing import CodeNotGoodError
from defectlog.bench.passphrase import WrongPassphraseError
from defectlog.bench.people import CutOffError, ReaderMayNotError
from defectlog.bench.tries import TooManyTriesError
from defectlog.errors import (
    ChangedMeanwhileError,
    DefectlogError,
    FieldError,
    FormError,
    NotFoundError,
)
from defectlog.photos.refusals import (
    EmptyFileError,
    ForeignFileError,
    MissingOriginalError,
    StorageFaultError,
    TooLargeError,
)
from defectlog.web.bounds import MIB
from defectlog.web.door import (
    ForeignPageError,
    ForKeepersError,
    NotInError,
    NotOpenError,
    OverheardError,
)
from defectlog.web.records import records
from defectlog.web.request_log import request_id

STATUS: tuple[tuple[type[DefectlogError], int], ...] = (
    (NotFoundError, 404),
    (FieldError, 400),
    (ChangedMeanwhileError, 409),
    (FormError, 400),
    (EmptyFileError, 400),
    (TooLargeError, 413),
    (KnowledgeTooLargeError, 413),
    (ForeignFileError, 415),
    (MissingOriginalError, 404),
    (StorageFaultError, 507),
    (NotInError, 401),
    (WrongPassphraseError, 403),
    (ReaderMayNotError, 403),
    (CutOffError, 403),
    (ForKeepersError, 403),
    (OverheardError, 403),
    (ForeignPageError, 403),
    (NotOpenError, 403),
    (CodeNotGoodError, 410),
    (TooManyTriesError, 429),
)
_OTHERWISE = 422

_HTTP_WORDS = {
    404: ("There is no such page", "check the address, or start from the Bench"),
    405: ("This address does not take that request", "go back and use the buttons of the page"),
    413: ("That was more than is taken in one go", "send less at a time, or a smaller file"),
}

log = logging.getLogger("defectlog")


class RequestError(DefectlogError):
    """A fault of the request itself, put into a sentence."""


class CrowdedError(RequestError):
    """Somebody else writes just now; a script may try again by itself after ``seconds``."""

    seconds = 5


def status_of(error: DefectlogError) -> int:
    """The HTTP status that fits an error."""
    return next((code for kind, code in STATUS if isinstance(error, kind)), _OTHERWISE)


def register(app: Flask) -> None:
    """Answer every error with a sentence, on the page or as JSON, whichever was asked for."""
    app.register_error_handler(DefectlogError, lambda error: tell(error, status_of(error)))
    app.register_error_handler(CSRFError, _expired)
    app.register_error_handler(SecurityError, _foreign_host)
    app.register_error_handler(HTTPException, _http)
    app.register_error_handler(OverflowError, _out_of_range)
    app.register_error_handler(DataError, _out_of_range)
    app.register_error_handler(OperationalError, _records_unreachable)
    app.register_error_handler(Exception, _ours)


def tell(error: DefectlogError, status: int) -> ResponseReturnValue:
    """Say an error to a person or to a script."""
    seconds = getattr(error, "seconds", None)
    headers = {"Retry-After": str(seconds)} if seconds else {}
    if wants_json():
        field = getattr(error, "field", None)
        return jsonify(what=error.what, do=error.do, field=field), status, headers
    return render_template("fault.html", error=error), status, headers


def wants_json() -> bool:
    """Whether the request comes from one of our scripts rather than from a page load."""
    return request.accept_mimetypes.best == "application/json"


def _expired(_error: CSRFError) -> ResponseReturnValue:
    return tell(
        RequestError(
            "This page was open for too long, or was opened before the last restart",
            "go back, load it again and save once more; nothing was changed",
        ),
        400,
    )


def _http(error: HTTPException) -> ResponseReturnValue:
    code = error.code or 500
    phrase = HTTPStatus(code).phrase if code in set(HTTPStatus) else "Refused"
    what, do = _HTTP_WORDS.get(code, (f"The request was refused ({phrase})", "go back and try"))
    if code == HTTPStatus.REQUEST_ENTITY_TOO_LARGE and (most := request.max_content_length):
        what += f", {most // MIB} MiB here"
    return tell(RequestError(what, do), code)


def _foreign_host(_error: SecurityError) -> ResponseReturnValue:
    # No page can be drawn: under a name that is not ours there are no addresses to link to.
    return "defectlog answers only under this machine's own name: open http://127.0.0.1\n", 400


def _out_of_range(_error: Exception) -> ResponseReturnValue:
    what = "A number in the request is larger than any record's"
    return tell(RequestError(what, "check the address, or start from the Bench"), 400)


# What SQLite says when the disk, and not a moment's crowding, is the reason: waiting does not help.
_DISK_WORDS = (
    ("disk is full", "Not saved, the disk is full", "free some room on it, then save once more"),
    (
        "readonly database",
        "Not saved, the records cannot be written",
        "look whether the disk is read-only, and whether this program may use the folder",
    ),
    # Said where there is no room for the journal that a save needs.
    (
        "unable to open database file",
        "Not saved, the records could not be opened for writing",
        "free some room on the disk, and look whether the folder is still there",
    ),
    ("disk I/O error", "Not saved, the disk did not take it", "look at the disk it lies on"),
)


def _records_unreachable(error: OperationalError) -> ResponseReturnValue:
    log.error("records: %s", error.orig)
    records().open_anew()
    told = " ".join(_one_after_another(error))
    for said, what, do in _DISK_WORDS:
        if said in told:
            return tell(RequestError(f"{what}, nothing was changed", do), 507)
    return tell(
        CrowdedError(
            "The records could not be reached just now, nothing was changed",
            "try again in a moment; if it stays so, look whether the disk is full or read-only",
        ),
        503,
    )


def _one_after_another(error: BaseException | None) -> Iterator[str]:
    """An error and those it came of: on a full disk, taking back fails as well."""
    while error is not None:
        yield str(error)
        error = error.__cause__ or error.__context__


def _ours(error: Exception) -> ResponseReturnValue:
    ref = request_id()
    log.exception("fault %s at %s", ref, request.path, exc_info=error)
    return tell(
        RequestError(
            f"Something went wrong in defectlog itself (reference {ref})",
            "nothing was changed; try once more, and if it stays so report that reference",
        ),
        500,
    )
