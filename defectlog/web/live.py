"""The picture a threshold is tried on in the browser: bytes, packed as ``bench/live.py`` says."""

import gzip

from flask import Blueprint, Response, request

from defectlog.bench import findings, live
from defectlog.web.photos import asked_settings, sent_json, whole_number
from defectlog.web.records import reading, store

bp = Blueprint("live", __name__, url_prefix="/photos")


@bp.post("/<int:number>/live")
def picture(number: int) -> Response:
    """The evened surface with the settings as they stand. Changes nothing, so it locks nothing.

    It is asked for with POST because outlines are too long for an address.
    """
    sent = sent_json()
    made = live.live_photo(
        findings.find_photo(reading(), number),
        store(),
        **asked_settings(sent),
        most_px=whole_number(sent, "most_px") or live.LEAST_PX,
    )
    body = live.packed(made)
    response = Response(body, mimetype="application/octet-stream")
    if "gzip" in request.headers.get("Accept-Encoding", ""):
        response.set_data(gzip.compress(body, 1))
        response.headers["Content-Encoding"] = "gzip"
    response.headers["Vary"] = "Accept-Encoding"
    return response
