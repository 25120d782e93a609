"""Workshop › Devices: who is in, a code for another phone, cutting off, the passphrase."""

from datetime import UTC, datetime

import segno
from flask import Blueprint, flash, jsonify, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from markupsafe import Markup
from sqlalchemy.orm import Session

from defectlog.bench.pairing import allow, asking, drop_codes, new_code, turn_away, who_came
from defectlog.bench.passphrase import (
    WrongPassphraseError,
    has_passphrase,
    is_right,
    kept_hash,
    set_passphrase,
)
from defectlog.bench.people import cut_all_off, cut_off, devices_in
from defectlog.bench.tries import begin_try, was_right, zone_of
from defectlog.errors import DefectlogError, FieldError
from defectlog.records.people import Role
from defectlog.web.certificate import fingerprint
from defectlog.web.door import at_the_pc, keepers_only, network
from defectlog.web.faults import status_of
from defectlog.web.network import base_today
from defectlog.web.once import save_once
from defectlog.web.records import reading, transaction, unchecked
from defectlog.web.who import visitor

bp = Blueprint("devices", __name__, url_prefix="/workshop/devices")

ROLES = (("maker", "Maker: takes photos, measures, decides"), ("reader", "Reader: looks only"))


@bp.get("/")
@keepers_only
def index() -> ResponseReturnValue:
    """Which devices are in, and what to do about them."""
    return _index({}, 200)


def _index(errors: dict[str, str], status: int) -> ResponseReturnValue:
    session = reading()
    page = render_template(
        "devices/index.html",
        devices=devices_in(session, datetime.now(UTC)),
        asking=asking(session, at=datetime.now(UTC)),
        me=visitor(),
        roles=ROLES,
        has_passphrase=has_passphrase(session),
        fingerprints=_fingerprints(),
        errors=errors,
    )
    return page, status


@bp.post("/codes")
@keepers_only
def add() -> ResponseReturnValue:
    """Show a code for one more device. It is shown here and nowhere else, and kept only hashed."""
    if not network().is_open:
        raise NotOpenedError
    with transaction() as session:
        code = new_code(session, _role(), at=datetime.now(UTC))
    address = f"{base_today(network())}{url_for('entry.pairing')}"
    return render_template(
        "devices/code.html",
        code=code,
        picture=_drawn(f"{address}#{code.picture}"),
        address=address,
        is_https=network().is_https,
    )


@bp.get("/codes/<int:number>")
@keepers_only
def code_state(number: int) -> ResponseReturnValue:
    """Who waits with a code, or has come in by it, for the page that shows it."""
    session = reading()
    if name := who_came(session, number):
        return jsonify(words=f"{name} is in.", asks=False, shown="")
    for device in asking(session, at=datetime.now(UTC)):
        if device.number == number:
            words = f"“{device.name}” at {device.address} wants in. Its screen shows"
            return jsonify(words=words, asks=True, shown=device.shown)
    return jsonify(words="", asks=False, shown="")


@bp.post("/codes/<int:number>/let-in")
@keepers_only
def let_one_in(number: int) -> ResponseReturnValue:
    """Let the device in that waits with a code."""

    def save(session: Session) -> str:
        name = allow(session, number, at=datetime.now(UTC))
        flash(f"{name} is let in. If its screen does not change by itself, tap Go on there.")
        return url_for(".index")

    return save_once(save)


@bp.post("/codes/<int:number>/turn-away")
@keepers_only
def turn_one_away(number: int) -> ResponseReturnValue:
    """Do not let it in; its code is used up."""

    def save(session: Session) -> str:
        turn_away(session, number)
        flash("It was not let in, and its code is good no more.")
        return url_for(".index")

    return save_once(save)


@bp.post("/<int:number>/cut-off")
@keepers_only
def cut_one_off(number: int) -> ResponseReturnValue:
    """Let a device in no more."""

    def save(session: Session) -> str:
        device = cut_off(session, number, at=datetime.now(UTC))
        flash(f"{device.name} is cut off. It needs a new code to come in again.")
        return url_for(".index")

    return save_once(save)


@bp.post("/cut-all-off")
@keepers_only
def cut_everyone_off() -> ResponseReturnValue:
    """Log out everywhere, here too."""
    with transaction() as session:
        cut_all_off(session, at=datetime.now(UTC))
        drop_codes(session)
    return redirect(url_for("entry.ask" if network().is_open else ".index"), 303)


@bp.post("/passphrase")
@keepers_only
def keep_passphrase() -> ResponseReturnValue:
    """Set the passphrase, or another one; then nobody is in who came by the one before."""
    try:
        words = request.form.get("passphrase", "")
        if words != request.form.get("again", ""):
            raise FieldError("again", "The two are not the same", "type both anew")
        if network().is_open:
            _check_current(request.form.get("current", ""))
        with transaction() as session:
            set_passphrase(session, words, at=datetime.now(UTC))
            cut_all_off(session, at=datetime.now(UTC))
            drop_codes(session)
    except DefectlogError as error:
        return _index({getattr(error, "field", "current"): str(error)}, status_of(error))
    flash("The passphrase is set. Every device that was in has to come in anew.")
    return redirect(url_for("entry.ask" if network().is_open else ".index"), 303)


def _fingerprints() -> tuple[str, str] | None:
    """Of the certificate a browser warns of, and of the one that is installed against that."""
    own = network()
    if not own.authority_pem:
        return None
    return fingerprint(own.certificate_pem), fingerprint(own.authority_pem)


def _check_current(words: str) -> None:
    """A browser left open at the PC is not enough to take the workshop over."""
    zone = zone_of(request.remote_addr or "", at_the_pc=at_the_pc())
    with unchecked() as session:
        number = begin_try(session, zone, at=datetime.now(UTC))
        kept = kept_hash(session)
    if not is_right(words, kept):
        raise WrongPassphraseError
    with unchecked() as session:
        was_right(session, number)


class NotOpenedError(DefectlogError):
    """A phone cannot reach an app that serves this PC alone."""

    def __init__(self) -> None:
        super().__init__(
            "A phone cannot reach these records yet",
            "stop defectlog and start it with defectlog serve --workshop",
        )


def _role() -> Role:
    try:
        return Role(request.form.get("role", "maker"))
    except ValueError:
        raise FieldError("role", "There is no such role", "choose maker or reader") from None


def _drawn(address: str) -> Markup:
    """The picture to be scanned, as SVG without a style of its own."""
    code = segno.make(address, error="m", micro=False)
    svg = code.svg_inline(scale=1, border=4, omitsize=True, svgclass="qr", lineclass=None)
    return Markup(svg)
