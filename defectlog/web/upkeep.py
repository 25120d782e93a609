"""Workshop › Health, the bin, and the backup to take along."""

import io
from collections.abc import Iterator
from datetime import UTC, datetime

from flask import Blueprint, Response, current_app, flash, render_template, url_for
from flask.typing import ResponseReturnValue
from sqlalchemy.orm import Session

from defectlog.bench import bin as the_bin
from defectlog.bench.backup import Backup
from defectlog.bench.health import health, reminders
from defectlog.bench.parts import workshop_name
from defectlog.bench.upkeep import Kept
from defectlog.bench.verify import verify
from defectlog.units import plural
from defectlog.web.door import keepers_only
from defectlog.web.once import save_once
from defectlog.web.records import reading, records, store, transaction

bp = Blueprint("upkeep", __name__, url_prefix="/workshop")

UNDO = "undo "


def kept() -> Kept:
    """The records of the running app, with their folder."""
    return Kept(current_app.config["RECORDS_FOLDER"], records(), store())


def undo(words: str, thing: str, number: int) -> None:
    """Say what was deleted on the next page, with a button that brings it back."""
    flash(words, UNDO + url_for("upkeep.bring_back", thing=thing, number=number))


@bp.app_context_processor
def _share() -> dict[str, object]:
    # A function, so that only the Bench asks for it.
    return {
        "upkeep_reminders": lambda: reminders(
            reading(), current_app.config["RECORDS_FOLDER"], now=datetime.now(UTC)
        )
    }


@bp.get("/health")
def show() -> ResponseReturnValue:
    """How the records are, and what to do where they are not well."""
    return render_template("upkeep/health.html", signs=_signs(), seen=None)


@bp.post("/health")
@keepers_only
def look_over() -> ResponseReturnValue:
    """Look every file and record over now; reads all photos, and may take its time."""
    seen = verify(kept(), at=datetime.now(UTC))
    return render_template("upkeep/health.html", signs=_signs(), seen=seen)


def _signs() -> list[object]:
    folder = current_app.config["RECORDS_FOLDER"]
    return list(health(reading(), store(), folder, now=datetime.now(UTC)))


@bp.post("/backup")
@keepers_only
def backup() -> Response:
    """Everything in one archive, made while it is sent."""
    now = datetime.now(UTC)
    name = "".join(c if c.isalnum() else "-" for c in workshop_name(reading()).lower())[:40]
    chunks = _chunks(Backup(kept(), at=now))
    # The first step tells what is wrong with the records while an error page can still be sent.
    first = next(chunks)
    return Response(
        _all_of(first, chunks),
        mimetype="application/zip",
        headers={
            "Content-Disposition": f'attachment; filename="{name}-{now:%Y-%m-%d}.zip"',
            "Cache-Control": "no-store",
        },
    )


def _chunks(making: Backup) -> Iterator[bytes]:
    out = io.BytesIO()
    for _share_done in making.steps(out):
        if out.tell():
            yield out.getvalue()
            out.seek(0)
            out.truncate()
    # Only now has the last of it gone out.
    making.is_handed_over()


def _all_of(first: bytes, rest: Iterator[bytes]) -> Iterator[bytes]:
    yield first
    yield from rest


@bp.get("/bin")
def show_bin() -> ResponseReturnValue:
    """What was deleted, with the way back."""
    return render_template(
        "upkeep/bin.html", things=the_bin.in_the_bin(reading()), days=the_bin.DAYS
    )


@bp.post("/bin/<thing>/<int:number>/back")
def bring_back(thing: str, number: int) -> ResponseReturnValue:
    """Take one thing out of the bin."""

    def save(session: Session) -> str:
        build = the_bin.bring_back(session, thing, number)
        flash(f"The {thing} is back.")
        return url_for("builds.show", number=build)

    return save_once(save)


@bp.get("/bin/empty")
def ask_to_empty() -> ResponseReturnValue:
    """Ask once more: what goes now is gone."""
    count = len(the_bin.in_the_bin(reading()))
    return render_template("upkeep/empty.html", count=count) if count else _to_the_bin()


@bp.post("/bin/empty")
@keepers_only
def empty() -> ResponseReturnValue:
    """Let go of all that is in the bin."""
    with transaction():
        pass  # asks whether this visitor may change anything
    here = kept()
    gone = the_bin.empty(here.records, here.store, here.folder, before=datetime.now(UTC))
    flash(f"The bin is empty, {plural(gone, 'thing')} went for good." if gone else "It was empty.")
    return _to_the_bin()


def _to_the_bin() -> Response:
    return Response(status=303, headers={"Location": url_for(".show_bin")})
