"""The guide on screen: kinds by family or by words, and the page of one kind."""

from flask import Blueprint, redirect, render_template, request
from flask.typing import ResponseReturnValue

from defectlog import guide
from defectlog.guide import key as the_key
from defectlog.guide import library
from defectlog.guide.removal import removal
from defectlog.web.peel_ply import VERDICTS, peel_figure
from defectlog.web.which import FROM_PHOTO, Asked, how_far, in_sentence, verdict

bp = Blueprint("guide", __name__, url_prefix="/guide")

LONGEST_QUERY = 100


@bp.get("/")
def index() -> ResponseReturnValue:
    """Every kind on its shelf, or those that answer to the words typed."""
    words = request.args.get("q", "").strip()[:LONGEST_QUERY]
    found = guide.look_up(words)
    return render_template(
        "guide/index.html",
        q=words,
        found=found.kinds if words else (),
        read_as=found.in_words,
        families=guide.families(),
        tests=library.shared().tests.values(),
    )


@bp.get("/which")
def which() -> ResponseReturnValue:
    """The key: one question at a time, and the kinds it may still be."""
    if request.args.keys() & FROM_PHOTO.keys():
        return redirect(Asked.of_photo(request.args).address)
    kinds, data = guide.kinds(), library.key_data()
    asked = Asked.read(request.args, data)
    state = the_key.look(asked.answers, kinds, data, given=asked.given, go_on=asked.go_on)
    first, second = state.standings[:2]
    return render_template(
        "guide/which.html",
        state=state,
        asked=asked,
        said=asked.said(data),
        how_far=how_far(state),
        verdict=verdict(state),
        second_name=in_sentence(second.kind),
        parting=the_key.part(first.kind, second.kind, data),
        dont_know=the_key.DONT_KNOW,
    )


@bp.get("/peel-ply")
def peel_ply() -> ResponseReturnValue:
    """How a peel ply comes off, with force and lift against the fold-back angle."""
    said = removal()
    return render_template(
        "guide/peel-ply.html",
        removal=said,
        figure=peel_figure(request.args, said.energy),
        verdicts=VERDICTS,
    )


@bp.get("/<key>")
def show(key: str) -> ResponseReturnValue:
    """One kind, from how it looks to what to change on the next build."""
    return render_template("guide/show.html", kind=guide.kind(key), hold=library.shared().hold)
