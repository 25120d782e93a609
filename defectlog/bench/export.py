"""Everything in open formats, readable without this program: tables, photos, marks."""

import csv
import io
import json
import zipfile
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any
from xml.sax.saxutils import quoteattr

from sqlalchemy import select
from sqlalchemy.orm import Session

from defectlog import __version__
from defectlog.bench.backup import whole_file
from defectlog.bench.kinds import names_of
from defectlog.bench.parts import workshop_name
from defectlog.bench.upkeep import Kept
from defectlog.errors import DefectlogError
from defectlog.facts import FACTS
from defectlog.photos.stripped import stripped
from defectlog.records import Build, Mark, Photo, Record, Shape

# Who may come in is of no use elsewhere, and nobody else's business.
_LEFT_OUT = {"passphrase", "device", "pairing_code", "failed_try", "saved_form"}
# The unit that a column's name ends in, as it is written out.
_UNITS = {
    "mm": "mm",
    "mm2": "mm²",
    "px": "px",
    "g": "g",
    "pct": "%",
    "deg": "°",
    "mm_per_px": "mm/px",
    "per_mm": "1/mm",
    "per_cm2": "1/cm²",
    "per_dm2": "1/dm²",
    "fraction": "share, 0 to 1",
    "minutes": "min",
    "seconds": "s",
    "bytes": "byte",
    "at": "moment, UTC",
}

_README = """{shop}: everything, as of {at} UTC, by defectlog {version}

builds.csv          one line a build, its facts with their units in the headings
tables/NAME.csv     every table as it is kept; tables/NAME.json the same with its types
tables/columns.csv  every column of every table and its unit
masks/              what each measurement counted and inspected: one-bit PNG of the upright photo
photos/             {photos}
annotations.jsonld  the marks as W3C Web Annotations with SVG selectors; lengths in pixels of the
                    upright photo, from its top left corner
{lost}
CSV files are UTF-8 with a comma between fields and a dot in numbers. Moments are UTC. A text that a
spreadsheet would run as a formula has an apostrophe before it.
"""
_STRIPPED = "the photos without place, owner and camera; JPEG pictures are untouched otherwise"
_AS_CAME = (
    "the photos byte for byte as they came, WITH all the camera wrote into them, place included"
)


def write_export(
    kept: Kept, place: Path, *, at: datetime, with_position: bool = False
) -> Iterator[float]:
    """Write everything into a ZIP; gives the share done after each photo.

    Raises
    ------
    NotWrittenError
        If it cannot be written; nothing is left of it then.
    """
    with (
        kept.records.read() as session,
        whole_file(place) as out,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive,
    ):
        _tables(session, archive)
        archive.writestr("builds.csv", _builds_csv(session))
        names: dict[int, str] = {}
        lost: list[str] = []
        photos = list(session.scalars(select(Photo).where(Photo.deleted_at.is_(None))))
        for number, photo in enumerate(photos, 1):
            name = f"photos/build-{photo.build_id}-photo-{photo.id}"
            try:
                data = kept.store.originals.read(photo.sha256)
                if with_position:
                    ending = kept.store.originals.path(photo.sha256).suffix[1:]
                else:
                    data, ending = stripped(data, max_px=kept.store.max_px)
            except DefectlogError as error:
                lost.append(f"photo {photo.id} is not in here: {error}")
                continue
            names[photo.id] = f"{name}.{ending}"
            archive.writestr(names[photo.id], data, zipfile.ZIP_STORED)
            yield number / len(photos)
        archive.writestr("annotations.jsonld", _annotations(session, names))
        said = _README.format(
            shop=workshop_name(session),
            at=f"{at:%Y-%m-%d %H:%M}",
            version=__version__,
            photos=_AS_CAME if with_position else _STRIPPED,
            lost="\n".join(lost),
        )
        archive.writestr("README.txt", said)


def _tables(session: Session, archive: zipfile.ZipFile) -> None:
    columns = [("table", "column", "unit")]
    for table in Record.metadata.sorted_tables:
        if table.name in _LEFT_OUT:
            continue
        plain = [c for c in table.columns if not c.name.endswith("_png")]
        columns += [(table.name, c.name, _unit(c.name)) for c in plain]
        rows = session.execute(select(*plain).order_by(*table.primary_key.columns)).mappings().all()
        archive.writestr(
            f"tables/{table.name}.csv",
            _csv([[c.name for c in plain], *([row[c.name] for c in plain] for row in rows)]),
        )
        archive.writestr(
            f"tables/{table.name}.json",
            json.dumps(
                [{key: _json_value(value) for key, value in row.items()} for row in rows],
                ensure_ascii=False,
                indent=1,
            ),
        )
        pictures = [c for c in table.columns if c.name.endswith("_png")]
        if pictures:
            for row in session.execute(select(table.c.id, *pictures)).mappings():
                for column in pictures:
                    what = column.name.removesuffix("_png")
                    name = f"masks/{table.name}-{row['id']}-{what}.png"
                    archive.writestr(name, row[column.name] or b"", zipfile.ZIP_STORED)
    archive.writestr("tables/columns.csv", _csv(columns))


def _unit(column: str) -> str:
    fitting = [end for end in _UNITS if column == end or column.endswith(f"_{end}")]
    return _UNITS[max(fitting, key=len)] if fitting else ""


def _builds_csv(session: Session) -> str:
    builds = list(session.scalars(select(Build).order_by(Build.id)))
    used = [name for name in FACTS if any(name in build.known for build in builds)]
    head = ["build", "part", "started", "released"]
    head += [
        FACTS[name].label + (f" [{FACTS[name].unit}]" if FACTS[name].unit else "") for name in used
    ]
    lines: list[list[Any]] = [head]
    for build in builds:
        known = build.known
        start = [build.id, build.part.name, build.started_at, build.released_at]
        lines.append([*start, *(known.get(name) for name in used)])
    return _csv(lines)


def _csv(lines: Any) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    for line in lines:
        writer.writerow([_cell(value) for value in line])
    return out.getvalue()


def _cell(value: Any) -> Any:
    value = _json_value(value)
    if isinstance(value, (list, dict)):
        value = json.dumps(value, ensure_ascii=False)
    if isinstance(value, bool):
        return "yes" if value else "no"
    # A text is no formula, whoever opens it.
    if isinstance(value, str) and value.lstrip()[:1] in ("=", "+", "-", "@"):
        return f"'{value}"
    return value


def _json_value(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.isoformat()
    return getattr(value, "value", value)


def _annotations(session: Session, names: dict[int, str]) -> str:
    """The marks after the Web Annotation Data Model (W3C Recommendation, 23 February 2017)."""
    kinds = names_of(session)
    items = [
        {
            "id": f"urn:defectlog:mark:{mark.id}",
            "type": "Annotation",
            "motivation": "identifying",
            "created": mark.drawn_at.isoformat(),
            "body": [
                {
                    "type": "TextualBody",
                    "purpose": "tagging",
                    "value": kinds.title(mark.finding.kind),
                },
                {
                    "type": "TextualBody",
                    "purpose": "identifying",
                    "value": f"finding {mark.finding_id}, {mark.finding.kind}",
                },
            ],
            "target": {
                "source": names[mark.photo_id],
                "selector": {"type": "SvgSelector", "value": _svg(mark)},
            },
        }
        for mark in session.scalars(select(Mark).where(Mark.deleted_at.is_(None)).order_by(Mark.id))
        if mark.photo_id in names and mark.finding.deleted_at is None
    ]
    page = {
        "@context": "http://www.w3.org/ns/anno.jsonld",
        "type": "AnnotationCollection",
        "label": "Marks on photos",
        "total": len(items),
        "first": {"type": "AnnotationPage", "items": items},
    }
    return json.dumps(page, ensure_ascii=False, indent=1)


def _svg(mark: Mark) -> str:
    points = [(float(x), float(y)) for x, y in mark.points]
    said = quoteattr(" ".join(f"{_px(x)},{_px(y)}" for x, y in points))
    if mark.shape is Shape.POINT:
        shape = f'<circle cx="{_px(points[0][0])}" cy="{_px(points[0][1])}" r="1"/>'
    elif mark.shape is Shape.BOX:
        (a, b), (c, d) = points[0], points[-1]
        shape = (
            f'<rect x="{_px(min(a, c))}" y="{_px(min(b, d))}" '
            f'width="{_px(abs(c - a))}" height="{_px(abs(d - b))}"/>'
        )
    elif mark.shape is Shape.LINE:
        shape = f"<polyline points={said}/>"
    else:
        shape = f"<polygon points={said}/>"
    width, height = mark.photo.width_px, mark.photo.height_px
    box = f'viewBox="0 0 {width} {height}" width="{width}" height="{height}"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {box}>{shape}</svg>'


def _px(value: float) -> str:
    """A length to a hundredth of a pixel, on the widest photo too."""
    return f"{value:.2f}".rstrip("0").rstrip(".")
