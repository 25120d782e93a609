"""The demould report of one build, for whoever gets the part: what was made, seen and decided."""

import io
import tempfile
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

from PIL import Image, ImageDraw

from defectlog import __version__
from defectlog.bench.builds import find_build
from defectlog.bench.kinds import names_of
from defectlog.bench.limits import verdict
from defectlog.bench.overlay import overlay_png
from defectlog.bench.parts import workshop_name
from defectlog.bench.room import measurement_words, scale_words
from defectlog.errors import DefectlogError
from defectlog.facts import Stage, fact_words, of_stage
from defectlog.photos.renditions import VIEW, PhotoStore
from defectlog.records import Build, Finding, Mark, Photo, Shape
from defectlog.report.typesetting import typeset

_WHITE, _BLACK = (255, 255, 255), (0, 0, 0)


def demould_pdf(session: Any, store: PhotoStore, number: int, *, at: datetime) -> bytes:
    """The report as PDF. Its photos are drawn anew from pixels: no place, camera or owner in them.

    Raises
    ------
    NotFoundError
        If there is no such build.
    """
    build = find_build(session, number)
    names = names_of(session)
    with tempfile.TemporaryDirectory(prefix="report-") as scratch:
        data = {
            "title": f"Demould report, build {build.id}, {build.part.name}",
            "shop": workshop_name(session),
            "lines": _head_lines(build),
            "stages": list(_stages(build)),
            "findings": [_finding(finding, names) for finding in build.findings],
            "photos": [_photo(photo, names, store, Path(scratch)) for photo in build.photos],
            "note": build.note,
            "foot": f"Made {_day(at)} with defectlog {__version__}. Sizes are given with their "
            "95 % interval; void fractions are of the inspected surface.",
        }
        return typeset("demould.typ", data, root=Path(scratch))


def _day(moment: datetime) -> str:
    local = moment.astimezone()
    return f"{local.day} {local:%b %Y}"


def _head_lines(build: Build) -> list[tuple[str, str]]:
    part = build.part
    lines = [
        ("Part", part.name),
        ("Drawing", part.drawing_ref),
        ("Mould", part.mould),
        ("Started", _day(build.started_at)),
        ("Released", _day(build.released_at) if build.released_at else "not released yet"),
    ]
    return [(label, words) for label, words in lines if words]


def _stages(build: Build) -> Iterator[dict[str, Any]]:
    known = build.known
    for stage in Stage:
        lines = [
            (fact.label, fact_words(fact, known[fact.name]))
            for fact in of_stage(stage)
            if fact.name in known
        ]
        if lines:
            yield {"title": stage.value[:1].upper() + stage.value[1:], "lines": lines}


def _finding(finding: Finding, names: Any) -> dict[str, Any]:
    seen = verdict(finding)
    outcome = finding.outcome.value
    if finding.closed_at:
        outcome = f"{outcome}, {_day(finding.closed_at)}"
    return {
        "number": finding.id,
        "code": names.code(finding.kind),
        "title": names.title(finding.kind),
        "size": seen.words,
        "outcome": outcome[:1].upper() + outcome[1:],
        "reason": finding.reason.rstrip("."),
        "fixes": [
            fix.words + (f" ({fix.result.value})" if fix.result else "") for fix in finding.fixes
        ],
    }


def _photo(photo: Photo, names: Any, store: PhotoStore, scratch: Path) -> dict[str, Any]:
    shown: dict[str, Any] = {
        "caption": f"Photo {photo.id}: {photo.face.value}, {photo.stage.value}. "
        f"{scale_words(photo.scale)}.",
        "file": "",
        "measured": [],
        "alt": f"{photo.face.value} {photo.stage.value}, with {len(photo.marks)} marks drawn on it",
    }
    try:
        picture = drawn(photo, names, store)
    except DefectlogError as error:
        shown["caption"] += f" {error.what}."
    else:
        shown["file"] = f"photo-{photo.id}.jpg"
        picture.save(scratch / shown["file"], "JPEG", quality=85)
    if photo.measurement is not None:
        words = measurement_words(photo.measurement)
        said = (
            ("Void fraction", f"{words['void_pct_words']} ({words['interval_words']})"),
            ("Of", words["of_words"] and f"{words['of_words']} alone"),
            ("Voids", words["count_words"]),
            ("Density", words["density_words"]),
            ("Largest", words["largest_words"]),
            ("Inspected", words["inspected_words"]),
            ("Beware", " ".join(str(warning) for warning in words["warnings"])),
        )
        shown["measured"] = [(label, text) for label, text in said if text]
    return shown


def drawn(photo: Photo, names: Any, store: PhotoStore) -> Image.Image:
    """A photo with what was counted and what was marked drawn on it, from its pixels alone."""
    with Image.open(store.rendition(photo.sha256, VIEW)) as file:
        picture = file.convert("RGB")
    if photo.measurement is not None:
        with Image.open(io.BytesIO(overlay_png(photo.measurement, picture.size))) as over:
            layer = over.convert("RGBA")
        picture.paste(layer, (0, 0), layer)
    pen = ImageDraw.Draw(picture)
    for mark in photo.marks:
        _draw(pen, mark, names.code(mark.finding.kind), picture.width / photo.width_px)
    return picture


def _draw(pen: ImageDraw.ImageDraw, mark: Mark, code: str, by: float) -> None:
    points = [(x * by, y * by) for x, y in mark.points]
    thin = max(2, round(pen.im.size[0] / 500))
    if mark.shape is Shape.POINT:
        (x, y), r = points[0], 6 * thin
        lines = [[(x - r, y), (x + r, y)], [(x, y - r), (x, y + r)]]
    elif mark.shape is Shape.BOX:
        (a, b), (c, d) = points[0], points[-1]
        lines = [[(a, b), (c, b), (c, d), (a, d), (a, b)]]
    elif mark.shape is Shape.OUTLINE:
        lines = [[*points, points[0]]]
    else:
        lines = [points]
    # White with a dark edge, so that it is seen on any surface.
    for colour, width in ((_BLACK, 3 * thin), (_WHITE, thin)):
        for line in lines:
            pen.line(line, fill=colour, width=width, joint="curve")
    x, y = min(points, key=lambda p: p[1])
    size = 12 * thin
    pen.text(
        (x, max(0, y - size - 2 * thin)),
        f"{code} {mark.finding_id}",
        fill=_WHITE,
        stroke_fill=_BLACK,
        stroke_width=thin,
        font_size=size,
    )
