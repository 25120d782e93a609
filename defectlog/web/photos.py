"""The photo room: one photo, its marks, its scale and its measurements. The scripts speak JSON."""

import math
from collections.abc import Sequence
from datetime import UTC, datetime
from enum import Enum
from typing import Any, TypeVar

from flask import Blueprint, Response, jsonify, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from defectlog.bench import findings, measuring
from defectlog.bench.before_after import earlier_photos
from defectlog.bench.overlay import overlay_png
from defectlog.bench.photos import delete_photo, describe_photo
from defectlog.bench.rejected import rejected_words
from defectlog.bench.room import room_state
from defectlog.bench.suggestions import suggestion_json, suggestions
from defectlog.bench.void_told import void_at, void_by_size
from defectlog.errors import FieldError
from defectlog.measure.lengths.scale import NO_SCALE
from defectlog.photos.renditions import LARGE, SIZES
from defectlog.records import Face, Photo, PhotoStage, Shape
from defectlog.units import read_number
from defectlog.web.faults import wants_json
from defectlog.web.intake import image_url
from defectlog.web.no_text import refuse_no_text
from defectlog.web.records import reading, store, transaction
from defectlog.web.tiles import tiles_words
from defectlog.web.upkeep import undo

bp = Blueprint("photos", __name__, url_prefix="/photos")

_Word = TypeVar("_Word", bound=Enum)


@bp.get("/<int:number>")
def room(number: int) -> ResponseReturnValue:
    """The photo room itself."""
    photo = findings.find_photo(reading(), number)
    return render_template(
        "photos/room.html",
        state=_state(photo),
        earlier=earlier_photos(photo)[:6],
        faces=[face.value for face in Face],
        stages=[stage.value for stage in PhotoStage],
    )


@bp.get("/<int:number>/state")
def state(number: int) -> ResponseReturnValue:
    """All the room shows."""
    return jsonify(_state(findings.find_photo(reading(), number)))


@bp.post("/<int:number>/marks")
def add_mark(number: int) -> ResponseReturnValue:
    """Save a mark that was drawn; sent twice with one ``client_id`` it is one mark."""
    sent = sent_json()
    with transaction() as session:
        mark = findings.add_mark(
            session,
            number,
            _word(Shape, sent.get("shape"), "shape"),
            _points(sent.get("points"), "points"),
            kind=_text(sent, "kind"),
            finding_number=whole_number(sent, "finding_id"),
            client_id=_text(sent, "client_id"),
            at=datetime.now(UTC),
        )
        mark_id = mark.id
    return _answer(number, 201, mark_id=mark_id)


@bp.post("/<int:number>/marks/<int:mark>")
def edit_mark(number: int, mark: int) -> ResponseReturnValue:
    """Save other points of a mark, another kind, or another finding it belongs to."""
    sent = sent_json()
    with transaction() as session:
        findings.edit_mark(
            session,
            mark,
            number,
            points=_points(sent["points"], "points") if "points" in sent else None,
            kind=_text(sent, "kind"),
            finding_number=whole_number(sent, "finding_id"),
        )
    return _answer(number)


@bp.post("/<int:number>/marks/<int:mark>/delete")
def delete_mark(number: int, mark: int) -> ResponseReturnValue:
    """Take a mark off the photo."""
    with transaction() as session:
        findings.delete_mark(session, mark, number, datetime.now(UTC))
    return _answer(number)


@bp.post("/<int:number>/marks/<int:mark>/restore")
def restore_mark(number: int, mark: int) -> ResponseReturnValue:
    """Bring a deleted mark back."""
    with transaction() as session:
        findings.restore_mark(session, mark, number)
    return _answer(number)


@bp.post("/<int:number>/scale")
def set_scale(number: int) -> ResponseReturnValue:
    """Scale the photo by two points, by its card, or not at all."""
    sent = sent_json()
    now = datetime.now(UTC)
    if "points" in sent:
        typed = str(sent.get("length_mm") or "")
        length_mm = read_number(typed, field="length_mm", label="Length")
        points = _points(sent["points"], "points")
        with transaction() as session:
            measuring.scale_by_points(
                session, number, points, length_mm, now, pointing_px=_number(sent, "pointing_px")
            )
        return _answer(number)
    scale = NO_SCALE
    if sent.get("find_card"):
        scale = measuring.card_scale(findings.find_photo(reading(), number), store())
    with transaction() as session:
        measuring.keep_scale(session, number, scale, now)
    return _answer(number)


@bp.post("/<int:number>/measurements")
def measure(number: int) -> ResponseReturnValue:
    """Measure voids. Nothing is locked while it runs; others can save meanwhile."""
    sent = sent_json()
    asked = asked_settings(sent)
    measured = measuring.measure_photo(
        findings.find_photo(reading(), number),
        store(),
        **asked,
        threshold=_number(sent, "threshold"),
    )
    with transaction() as session:
        kept = measuring.keep_measurement(
            session, number, measured, region=asked["region"], at=datetime.now(UTC)
        )
        kept_id = kept.id
    return _answer(number, 201, measurement_id=kept_id)


@bp.get("/<int:number>/measurements/<int:measurement>/overlay.png")
def overlay(number: int, measurement: int) -> Response:
    """What a measurement counted, as a picture that lies over the largest copy of the photo.

    ``across`` asks for one of so many pixels, to be seen from far away.
    """
    kept = measuring.find_measurement(reading(), measurement, number)
    size = LARGE.fit(kept.photo.width_px, kept.photo.height_px)
    across = request.args.get("across", type=int)
    if across is not None and 0 < across < size[0]:
        size = across, max(1, round(size[1] * across / size[0]))
    response = Response(overlay_png(kept, size), mimetype="image/png")
    response.headers["Cache-Control"] = "private, max-age=3600"
    return response


@bp.get("/<int:number>/measurements/<int:measurement>/rejected")
def rejected(number: int, measurement: int) -> ResponseReturnValue:
    """What a measurement looked at and did not count, each with its reason."""
    return jsonify(rejected_words(measuring.find_measurement(reading(), measurement, number)))


@bp.get("/<int:number>/measurements/<int:measurement>/void")
def counted_void(number: int, measurement: int) -> ResponseReturnValue:
    """One void that was counted, in words: the one at a place of the photo, or one by its size.

    ``rank`` 1 asks for the largest; else ``x``, ``y`` and ``reach`` say where. None if there is
    none.
    """
    kept = measuring.find_measurement(reading(), measurement, number)
    if (rank := request.args.get("rank", type=int)) is not None:
        return jsonify(void=void_by_size(kept, rank))
    x, y, reach = (request.args.get(name, math.nan, float) for name in ("x", "y", "reach"))
    return jsonify(void=void_at(kept, x, y, reach))


@bp.get("/<int:number>/measurements/<int:measurement>/suggestions")
def suggested(number: int, measurement: int) -> ResponseReturnValue:
    """Marks that a measurement suggests and nobody has drawn."""
    session = reading()
    found = suggestions(session, measuring.find_measurement(session, measurement, number))
    return jsonify(suggestions=[suggestion_json(one) for one in found])


@bp.post("/<int:number>/details")
def details(number: int) -> ResponseReturnValue:
    """Say which face the photo shows, at which stage, with a note; as a form or from a script."""
    sent = sent_json() if request.is_json else request.form
    with transaction() as session:
        describe_photo(
            session,
            number,
            face=_word(Face, sent["face"], "face") if sent.get("face") else None,
            stage=_word(PhotoStage, sent["stage"], "stage") if sent.get("stage") else None,
            note=str(sent["note"]) if sent.get("note") is not None else None,
            seen=str(sent["seen"]) if sent.get("seen") is not None else None,
        )
    if wants_json():
        return _answer(number)
    return redirect(url_for("photos.room", number=number), 303)


@bp.post("/<int:number>/delete")
def delete(number: int) -> ResponseReturnValue:
    """Take the photo off its build."""
    with transaction() as session:
        build_id = delete_photo(session, number, datetime.now(UTC)).build_id
    undo(f"Photo {number} is in the bin, with its marks.", "photo", number)
    return redirect(url_for("builds.show", number=build_id), 303)


def _answer(number: int, status: int = 200, **more: int) -> ResponseReturnValue:
    """The state after a change, with the number of what was made."""
    return jsonify(**more, state=_state(findings.find_photo(reading(), number))), status


def _state(photo: Photo) -> dict[str, Any]:
    """What the room shows, with the addresses only the web face knows."""
    shown = room_state(reading(), photo)
    about = shown["photo"]
    about["build_url"] = url_for("builds.show", number=photo.build_id)
    for way in ("previous", "next"):
        beside = about.pop(f"{way}_id")
        about[f"{way}_url"] = beside and url_for("photos.room", number=beside)
    about["renditions"] = _renditions(photo)
    about["tiles"] = tiles_words(photo)
    for finding in shown["findings"]:
        finding["url"] = url_for("findings.show", number=finding["id"])
    for row in shown["measurements"]:
        place = {"number": photo.id, "measurement": row["id"]}
        row["overlay_url"] = url_for("photos.overlay", **place)
        row["rejected_url"] = url_for("photos.rejected", **place)
        row["how_url"] = url_for("how.show", **place)
    return shown


def _renditions(photo: Photo) -> list[dict[str, Any]]:
    """The copies of a photo from small to large; a small photo has some of one size."""
    sizes = {size.fit(photo.width_px, photo.height_px): name for name, size in SIZES.items()}
    return [
        {"url": image_url(photo, name), "width_px": width, "height_px": height}
        for (width, height), name in sorted(sizes.items())
    ]


def asked_settings(sent: dict[str, Any]) -> dict[str, Any]:
    """The settings of a measurement as the room sends them: see ``measuring.measure_photo``."""
    smallest = _text(sent, "smallest_mm")
    outlines = sent.get("leave_out") or []
    if not isinstance(outlines, list):
        raise FieldError("leave_out", "The areas to leave out could not be read", "draw them again")
    return {
        "region": _points(sent["region"], "region") if sent.get("region") else None,
        "look": _text(sent, "look") or "auto",
        "smallest_mm": read_number(smallest, field="smallest_mm", label="Smallest void")
        if smallest
        else None,
        "leave_out": [_points(outline, "leave_out") for outline in outlines],
    }


def sent_json() -> dict[str, Any]:
    try:
        sent = request.get_json(silent=True)
    except RecursionError:  # brackets within brackets, thousands deep
        sent = None
    if not isinstance(sent, dict):
        raise FieldError("", "What was sent could not be read", "load the page again and retry")
    refuse_no_text(sent.items())
    return sent


def _text(sent: dict[str, Any], field: str) -> str | None:
    value = sent.get(field)
    return None if value is None else str(value)[:64]


def _number(sent: dict[str, Any], field: str) -> float | None:
    value = sent.get(field)
    if value is None:
        return None
    if not isinstance(value, int | float) or isinstance(value, bool):
        raise FieldError(field, f"“{str(value)[:40]}” is no number", "load the page again")
    return float(value)


def whole_number(sent: dict[str, Any], field: str) -> int | None:
    """A whole number that was sent, or None."""
    value = sent.get(field)
    if value is None:
        return None
    if not isinstance(value, int) or isinstance(value, bool):
        raise FieldError(field, f"“{value}” is not a number of ours", "load the page again")
    return value


def _points(value: object, field: str) -> Sequence[tuple[float, float]]:
    """Points as the room sends them: pairs of numbers, nothing else."""
    try:
        return [(float(x), float(y)) for x, y in value]  # type: ignore[attr-defined]
    except (TypeError, ValueError):
        raise FieldError(field, "The points could not be read", "draw it again") from None


def _word(words: type[_Word], value: object, field: str) -> _Word:
    try:
        return words(value)
    except ValueError:
        allowed = ", ".join(str(word.value) for word in words)
        raise FieldError(
            field, f"“{str(value)[:40]}” is no {field}", f"choose one of {allowed}"
        ) from None
