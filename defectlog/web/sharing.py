"""Share what the shop knows: a file to give away, and the form that takes one in."""

import re
from datetime import UTC, datetime

from flask import Blueprint, Response, flash, render_template, request, url_for
from flask.typing import ResponseReturnValue
from sqlalchemy.orm import Session

from defectlog.bench.forgetting import forget_shop, shops_here, what_goes
from defectlog.bench.knowledge_file import MOST_BYTES, read_knowledge, write_knowledge
from defectlog.bench.sharing import give_out, leave_counts_out, to_give
from defectlog.bench.taking_in import take_in
from defectlog.errors import DefectlogError, FieldError
from defectlog.web.bounds import MIB, takes_up_to
from defectlog.web.faults import status_of
from defectlog.web.once import save_once
from defectlog.web.records import reading, transaction

bp = Blueprint("sharing", __name__, url_prefix="/workshop/sharing")


@bp.get("/")
def index() -> ResponseReturnValue:
    """What a file would hold, the form to take one in, and the shops heard from."""
    return _page("")


def _page(error: str) -> str:
    session = reading()
    return render_template(
        "workshop/sharing.html",
        giving=to_give(session),
        shops=shops_here(session),
        error=error,
    )


@bp.get("/knowledge.json")
def download() -> Response:
    """The file to give away."""
    now = datetime.now(UTC)
    with transaction() as session:
        knowledge = give_out(session, at=now)
    name = "-".join(re.findall(r"[a-z0-9]+", knowledge.shop.name.casefold())) or "workshop"
    return Response(
        write_knowledge(knowledge),
        mimetype="application/json",
        headers={
            "Content-Disposition": f'attachment; filename="knowledge-{name}-{now:%Y-%m-%d}.json"'
        },
    )


@bp.post("/")
@takes_up_to(MOST_BYTES + MIB)
def upload() -> ResponseReturnValue:
    """Take a file of another shop in, whole or not at all."""
    file = request.files.get("file")
    try:
        if file is None or not file.filename:
            raise FieldError("file", "No file is chosen", "choose the file of the other shop")
        # It is read and looked through before the records are locked for writing.
        knowledge = read_knowledge(file.stream.read(MOST_BYTES + 1))

        def save(session: Session) -> str:
            flash(take_in(session, knowledge, at=datetime.now(UTC)).words)
            return url_for(".index")

        return save_once(save)
    except DefectlogError as error:
        return _page(str(error)), status_of(error)


@bp.post("/shops/<int:number>/leave-out")
def leave_out(number: int) -> ResponseReturnValue:
    """Drop what another shop counted."""

    def save(session: Session) -> str:
        shop = leave_counts_out(session, number)
        flash(f"The counts of {shop.name} are left out. Take its file in again to have them back.")
        return url_for(".index")

    return save_once(save)


@bp.get("/shops/<int:number>/remove")
def removing(number: int) -> ResponseReturnValue:
    """What would go with all that came from a shop, counted, before it does."""
    return render_template("workshop/forget_shop.html", going=what_goes(reading(), number))


@bp.post("/shops/<int:number>/remove")
def remove(number: int) -> ResponseReturnValue:
    """Remove all that came from a shop, but for what was used here."""

    def save(session: Session) -> str:
        name = what_goes(session, number).shop.name
        going = forget_shop(session, number)
        words = (
            f"Removed what came from {name}: {going.words}. Take its file in again to undo that."
        )
        if going.stays:
            words += f" Used here, so it stays: {', '.join(going.stays)}."
        flash(words)
        return url_for(".index")

    return save_once(save)
