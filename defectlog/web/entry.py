"""Coming in: the passphrase at the PC or over HTTPS, a code for a phone, and going again."""

from collections.abc import Callable
from datetime import UTC, datetime
from typing import TypeVar

from flask import (
    Blueprint,
    Response,
    jsonify,
    make_response,
    redirect,
    render_template,
    request,
    session,
)
from flask import url_for as address_of
from flask.typing import ResponseReturnValue
from sqlalchemy.orm import Session

from defectlog.bench import pairing as codes
from defectlog.bench.pairing import CodeNotGoodError, Standing, standing
from defectlog.bench.passphrase import WrongPassphraseError, is_right, kept_hash
from defectlog.bench.people import THIS_PC, clean_name, cut_off, let_in
from defectlog.bench.tries import TooManyTriesError, begin_try, was_right, zone_of
from defectlog.errors import DefectlogError, FieldError, NotFoundError
from defectlog.records.people import CameBy, Device, Role
from defectlog.web.door import (
    NotInError,
    at_the_pc,
    hand_over,
    is_unheard,
    network,
    not_in_the_clear,
    take_back,
)
from defectlog.web.faults import status_of, tell, wants_json
from defectlog.web.records import reading, unchecked
from defectlog.web.who import visitor

bp = Blueprint("entry", __name__)

_Opened = tuple[Device, str]
_Came = TypeVar("_Came")
_WAITING = "waiting"  # in the session: the key that a device waits with


@bp.app_errorhandler(NotInError)
def _stay_out(error: NotInError) -> ResponseReturnValue:
    return tell(error, 401) if wants_json() else entry_page(None, 401)


@bp.get("/enter")
def ask() -> ResponseReturnValue:
    """Ask for the passphrase, or say what to do where it may not be typed."""
    return entry_page()


def entry_page(error: DefectlogError | None = None, status: int = 200) -> ResponseReturnValue:
    """The page a stranger gets to see; nothing of the records is on it."""
    page = render_template(
        "entry/ask.html",
        error=error,
        may_type=is_unheard(),
        is_pc=at_the_pc(),
        has_certificate=bool(network().authority_pem),
    )
    return page, status, _wait(error)


def _wait(error: DefectlogError | None) -> dict[str, str]:
    return {"Retry-After": str(error.seconds)} if isinstance(error, TooManyTriesError) else {}


@bp.post("/enter")
@not_in_the_clear
def enter() -> ResponseReturnValue:
    """Let in whoever knows the passphrase."""
    words = request.form.get("passphrase", "")
    name = THIS_PC if at_the_pc() else clean_name(request.form.get("name", "")) or "A browser"
    came_by = CameBy.PC if at_the_pc() else CameBy.PASSPHRASE

    def open_door(writing: Session) -> _Opened:
        return let_in(writing, name, Role.MAKER, came_by, at=datetime.now(UTC))

    def look() -> None:
        with unchecked() as looking:
            kept = kept_hash(looking)
        # Slow on purpose, so it is done while the records are free for others.
        if not is_right(words, kept):
            raise WrongPassphraseError

    try:
        return _hand_over(_counted(open_door, look), address_of("bench.index"))
    except DefectlogError as error:
        if wants_json():
            raise
        return entry_page(error, status_of(error))


@bp.get("/pair")
def pairing() -> ResponseReturnValue:
    """Where the picture on the PC's screen leads: name the device, and ask to be let in."""
    return _pair_page("", "", None)


def _pair_page(name: str, code: str, error: DefectlogError | None) -> ResponseReturnValue:
    page = render_template(
        "entry/pair.html", name=name, code=code, error=error, is_secure=is_unheard()
    )
    return page, status_of(error) if error else 200, _wait(error)


@bp.post("/pair")
def pair_device() -> ResponseReturnValue:
    """Have the device that brings a good code wait until somebody at the PC lets it in."""
    code, name = request.form.get("code", "")[:100], request.form.get("name", "")
    address = request.remote_addr or ""
    try:
        if not clean_name(name):
            raise FieldError("name", "The device has no name", "give it one, such as Anna's phone")
        key = _counted(
            lambda writing: codes.ask(writing, code, name, address, at=datetime.now(UTC))
        )
    except DefectlogError as error:
        if wants_json():
            raise
        # A code that was no good need not be typed over; one whose turn has not come is kept.
        again = "" if isinstance(error, CodeNotGoodError) else code
        return _pair_page(clean_name(name), again, error)
    session[_WAITING] = key
    return redirect(address_of(".waiting"), 303)


@bp.get("/pair/waiting")
def waiting() -> ResponseReturnValue:
    """What a device shows that waits at the door; its script asks here how it stands."""
    now, shown = standing(reading(), session.get(_WAITING, ""), at=datetime.now(UTC))
    if wants_json():
        return jsonify(standing=now.value)
    if now is Standing.OVER:
        return _over()
    return render_template("entry/waiting.html", shown=shown, is_allowed=now is Standing.ALLOWED)


@bp.post("/pair/waiting")
def come_in() -> ResponseReturnValue:
    """Hand its key to a device that was let in."""
    key, now = session.get(_WAITING, ""), datetime.now(UTC)
    if standing(reading(), key, at=now)[0] is Standing.WAITS:
        return redirect(address_of(".waiting"), 303)
    try:
        with unchecked() as writing:
            return _hand_over(codes.come_in(writing, key, at=now), address_of(".welcome"))
    except CodeNotGoodError:
        return _over()
    except DefectlogError as error:
        return _pair_page("", "", error)


def _over() -> ResponseReturnValue:
    """Nobody waits with that key. One that is in already has gone back, or tapped twice."""
    if visitor() is not None:
        return redirect(address_of(".welcome"), 303)
    return _pair_page("", "", CodeNotGoodError())


def _counted(come: Callable[[Session], _Came], look: Callable[[], None] = lambda: None) -> _Came:
    """One try to come in: counted, then looked at, and taken off the count if it was right."""
    zone = zone_of(request.remote_addr or "", at_the_pc=at_the_pc())
    with unchecked() as writing:
        number = begin_try(writing, zone, at=datetime.now(UTC))
    look()
    with unchecked() as writing:
        came = come(writing)
        was_right(writing, number)
    return came


def _hand_over(opened: _Opened, then: str) -> ResponseReturnValue:
    # A new session: what was known of the old one, its form token too, is worth nothing now.
    session.clear()
    return hand_over(make_response(redirect(then, 303)), *opened)


@bp.get("/welcome")
def welcome() -> ResponseReturnValue:
    """What this device is and may do."""
    return render_template("entry/welcome.html", seen=visitor(), is_secure=is_unheard())


@bp.post("/leave")
def leave() -> ResponseReturnValue:
    """Log this device out."""
    seen = visitor()
    if seen is not None and seen.device_id is not None:
        with unchecked() as writing:
            cut_off(writing, seen.device_id, at=datetime.now(UTC))
    session.clear()
    return take_back(make_response(redirect(address_of("entry.ask"), 303)))


@bp.get("/workshop-certificate.crt")
def certificate() -> Response:
    """The certificate a phone may install, so that it knows this PC again. It is no secret."""
    pem = network().authority_pem
    if not pem:
        raise NotFoundError("certificate", "of this workshop")
    return Response(
        pem,
        mimetype="application/x-x509-ca-cert",
        headers={"Content-Disposition": 'attachment; filename="workshop-certificate.crt"'},
    )
