"""Photos of every build: found by part, build, kind, face, stage and day."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from enum import Enum
from typing import TypeVar

from flask import Blueprint, render_template, request, url_for
from flask.typing import ResponseReturnValue

from defectlog.bench.gallery import FoundPhoto, PhotoSearch, find_photos, kinds_marked
from defectlog.bench.parts import list_parts
from defectlog.errors import FieldError, FormError
from defectlog.records import Face, PhotoStage
from defectlog.web.intake import copy_url
from defectlog.web.records import reading
from defectlog.web.words import kind_code, kind_title

bp = Blueprint("gallery", __name__, url_prefix="/photos")

_FIELDS = ("part", "build", "kind", "face", "stage", "since", "until")
_Word = TypeVar("_Word", bound=Enum)
_Read = TypeVar("_Read")


@dataclass(frozen=True, slots=True)
class Tile:
    """One photo of the page."""

    photo: FoundPhoto
    thumb: str
    marked: tuple[tuple[str, str], ...]  # code and title of each kind on it


@bp.get("/")
def index() -> ResponseReturnValue:
    """The newest photos, or those that were asked for."""
    session = reading()
    typed = {name: request.args.get(name, "").strip() for name in _FIELDS}
    errors: dict[str, str] = {}
    found = None
    try:
        found = find_photos(session, _read(typed), before=request.args.get("before", type=int))
    except FormError as error:
        errors = {fault.field: str(fault) for fault in error.faults}
    except FieldError as error:
        errors = {error.field: str(error)}
    older = None
    if found and found.older is not None:
        asked = {name: value for name, value in typed.items() if value}
        older = url_for(".index", **asked, before=found.older)
    parts = [(part.id, part.name) for part in list_parts(session)]
    page = render_template(
        "photos/index.html",
        typed=typed,
        errors=errors,
        is_asked=any(typed.values()),
        asked_words=_asked_words(typed, parts),
        count=found.count if found else 0,
        tiles=[_tile(photo) for photo in found.photos] if found else [],
        older=older,
        parts=parts,
        kinds=kinds_marked(session),
        faces=[(face.value, face.value) for face in Face],
        stages=[(stage.value, stage.value) for stage in PhotoStage],
    )
    return page, 400 if errors else 200


def _asked_words(typed: dict[str, str], parts: list[tuple[int, str]]) -> str:
    names = {str(number): name for number, name in parts}
    words = [
        names.get(typed["part"], typed["part"]),
        typed["build"] and f"build {typed['build']}",
        typed["kind"] and f"marked as {kind_title(typed['kind'])}",
        typed["face"],
        typed["stage"],
        typed["since"] and f"from {typed['since']}",
        typed["until"] and f"to {typed['until']}",
    ]
    return ", ".join(word for word in words if word)


def _tile(photo: FoundPhoto) -> Tile:
    return Tile(
        photo,
        copy_url(photo.number, photo.sha256, "thumb"),
        tuple((kind_code(key), kind_title(key)) for key in photo.kinds),
    )


def _read(typed: dict[str, str]) -> PhotoSearch:
    """What was asked for.

    Raises
    ------
    FormError
        If one or more fields cannot be read.
    """
    faults: list[FieldError] = []

    def read(name: str, how: Callable[[str, str], _Read]) -> _Read | None:
        try:
            return how(name, typed[name]) if typed[name] else None
        except FieldError as fault:
            faults.append(fault)
            return None

    wanted = PhotoSearch(
        part=read("part", _number),
        build=read("build", _number),
        kind=typed["kind"] or None,
        face=read("face", lambda name, text: _word(Face, name, text)),
        stage=read("stage", lambda name, text: _word(PhotoStage, name, text)),
        since=read("since", _day),
        until=read("until", _day),
    )
    if faults:
        raise FormError(faults)
    return wanted


def _number(name: str, text: str) -> int:
    if not text.isdecimal() or len(text) > 9:
        raise FieldError(
            name, f"{name.capitalize()}: “{text[:20]}” is no number", "write it like 12"
        )
    return int(text)


def _day(name: str, text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise FieldError(
            name, f"{name.capitalize()}: “{text[:20]}” is no day", "write it like 2026-03-31"
        ) from None


def _word(words: type[_Word], name: str, text: str) -> _Word:
    try:
        return words(text)
    except ValueError:
        allowed = ", ".join(str(word.value) for word in words)
        raise FieldError(
            name, f"{name.capitalize()}: “{text[:20]}” is none", f"choose one of {allowed}"
        ) from None
