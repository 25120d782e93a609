"""The guide on screen: kinds by family or by words, and the page of one kind."""

from collections.abc import Mapping

from flask import Blueprint, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from defectlog import guide
from defectlog.bench.house_notes import notes_of, words_by_kind
from defectlog.bench.kinds import find_kind, key_of, library_of
from defectlog.bench.known_signs import known_signs
from defectlog.bench.own_rows import deleted_own
from defectlog.bench.tallies import OTHER_FIX, tallies_of
from defectlog.guide import key as the_key
from defectlog.guide import library
from defectlog.guide.removal import removal
from defectlog.records import Finding, OwnCause, OwnFix
from defectlog.web.peel_ply import VERDICTS, peel_figure
from defectlog.web.records import reading
from defectlog.web.which import FROM_PHOTO, Asked, how_far, in_sentence, verdict

bp = Blueprint("guide", __name__, url_prefix="/guide")

LONGEST_QUERY = 100
MOST_PARTED = 3  # kinds still in that the leader is held against; more would only be scrolled past


@bp.get("/")
def index() -> ResponseReturnValue:
    """Every kind on its shelf, or those that answer to the words typed."""
    words = request.args.get("q", "").strip()[:LONGEST_QUERY]
    session = reading()
    held = library_of(session)
    noted = words_by_kind(session) if words else {}
    found = guide.look_up(
        words, held.kinds, {kind: "\n".join(said) for kind, said in noted.items()}
    )
    return render_template(
        "guide/index.html",
        q=words,
        found=found.kinds if words else (),
        read_as=found.in_words,
        notes={key: noted[key] for key in found.in_notes},
        families=held.families(),
        tests=library.shared().tests.values(),
    )


@bp.get("/which")
def which() -> ResponseReturnValue:
    """The key: one question at a time, and the kinds it may still be."""
    if request.args.keys() & FROM_PHOTO.keys():
        return redirect(Asked.of_photo(request.args).address)
    kinds, data = key_of(reading())
    asked = Asked.read(request.args, data)
    state = the_key.look(asked.answers, kinds, data, given=asked.given, go_on=asked.go_on)
    first, second = state.standings[0], state.runner_up
    others = state.still_in[1 : 1 + MOST_PARTED] or (second,)
    return render_template(
        "guide/which.html",
        state=state,
        asked=asked,
        said=asked.said(data),
        how_far=how_far(state),
        verdict=verdict(state),
        partings=[
            (one, in_sentence(one.kind), the_key.part(first.kind, one.kind, data, asked.answers))
            for one in others
        ],
        dont_know=the_key.DONT_KNOW,
    )


@bp.app_template_global()
def key_for(finding: Finding) -> str:
    """The way to the key, with what the photos of a finding say by themselves."""
    signs = known_signs(finding)
    query = {name: signs[word] for name, word in FROM_PHOTO.items() if word in signs}
    return url_for("guide.which", **query)


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
    return kind_page(key, {}, {})


def kind_page(key: str, typed: Mapping[str, str], errors: Mapping[str, str]) -> str:
    """The page of one kind, with what was typed of a house note that could not be kept."""
    session = reading()
    kind = find_kind(session, key)
    tallies = tallies_of(session, key)
    return render_template(
        "guide/show.html",
        kind=kind,
        hold=library.shared().hold,
        notes=notes_of(session, key),
        tallies=tallies,
        other_fixes=tallies.fixes.get(OTHER_FIX, ()),
        deleted_causes=deleted_own(session, OwnCause, key),
        deleted_fixes=deleted_own(session, OwnFix, key),
        typed=typed,
        errors=errors,
    )
