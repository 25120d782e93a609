"""The guide on screen: kinds by family or by words, and the page of one kind."""

from flask import Blueprint, render_template, request
from flask.typing import ResponseReturnValue

from defectlog import guide
from defectlog.guide import library

bp = Blueprint("guide", __name__, url_prefix="/guide")

LONGEST_QUERY = 100


@bp.get("/")
def index() -> ResponseReturnValue:
    """Every kind on its shelf, or those that answer to the words typed."""
    words = request.args.get("q", "").strip()[:LONGEST_QUERY]
    return render_template(
        "guide/index.html",
        q=words,
        found=guide.search(words) if words else (),
        families=guide.families(),
        tests=library.shared().tests.values(),
    )


@bp.get("/<key>")
def show(key: str) -> ResponseReturnValue:
    """One kind, from how it looks to what to change on the next build."""
    return render_template("guide/show.html", kind=guide.kind(key), hold=library.shared().hold)
