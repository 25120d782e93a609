"""The full pixels of large photos, square by square, for whoever looks close."""

import logging
from typing import Any

from flask import Blueprint, Response, current_app, jsonify, request, url_for
from flask.blueprints import BlueprintSetupState
from flask.typing import ResponseReturnValue

from defectlog.bench.findings import find_photo
from defectlog.errors import DefectlogError, NotFoundError
from defectlog.photos.tiles import TILE_PX, Tiles, levels_of
from defectlog.records import Photo
from defectlog.web.intake import FOR_GOOD, as_picture
from defectlog.web.records import reading

bp = Blueprint("tiles", __name__, url_prefix="/photos")

log = logging.getLogger("defectlog")

_KEY = "defectlog-tiles"


@bp.record
def _open(state: BlueprintSetupState) -> None:
    state.app.extensions[_KEY] = Tiles(state.app.extensions["defectlog"][1])


def tiles_words(photo: Photo) -> dict[str, Any] | None:
    """What the room has to know of a photo's tiles; None for a photo its copies show whole."""
    levels = levels_of(photo.width_px, photo.height_px)
    if not levels:
        return None
    return {
        "url": url_for("tiles.ready", number=photo.id),
        "version": photo.sha256[:12],
        "tile_px": TILE_PX,
        "levels": [{"width_px": one.width_px, "height_px": one.height_px} for one in levels],
    }


@bp.get("/<int:number>/tiles")
def ready(number: int) -> ResponseReturnValue:
    """Whether the tiles are there; if not, they are cut from now on. ``failed`` if they cannot."""
    photo = find_photo(reading(), number)
    if not levels_of(photo.width_px, photo.height_px):
        raise NotFoundError("tile", f"of photo {number}")
    if _tiles().are_ready(photo.sha256):
        return jsonify(ready=True)
    cutting = _tiles().prepare(photo.sha256)
    fault = cutting.exception() if cutting.done() else None
    if fault is not None:
        log.warning("No tiles of photo %d: %s", number, fault)
        # Anything else is our own bug; the photo is still seen in its largest copy.
        words = str(fault) if isinstance(fault, DefectlogError) else ""
        return jsonify(ready=False, failed=True, words=words)
    return jsonify(ready=cutting.done()), 200 if cutting.done() else 202


@bp.get("/<int:number>/tiles/<int:level>/<int:column>-<int:row>.jpg")
def tile(number: int, level: int, column: int, row: int) -> Response:
    """One tile of a photo."""
    photo = find_photo(reading(), number)
    data = _tiles().tile(photo.sha256, level, column, row)
    response = Response(data, mimetype="image/jpeg")
    is_for_good = request.args.get("v") == photo.sha256[:12]
    response.headers["Cache-Control"] = FOR_GOOD if is_for_good else "private, no-cache"
    return as_picture(response)


def _tiles() -> Tiles:
    tiles: Tiles = current_app.extensions[_KEY]
    return tiles
