"""The door: every request passes here first, and what is not let through on purpose stays out.

While the app serves this PC alone, whoever sits at it is at home. Open to the workshop network, a
request has to carry the key of a device that came in; only the pages that let one in are free. A
view cannot forget any of this: it asks nothing, and is asked for nothing.
"""

from collections.abc import Callable
from datetime import UTC, datetime
from typing import TypeVar, cast
from urllib.parse import urlsplit

from flask import Flask, current_app, g, request
from flask.sessions import SecureCookieSessionInterface
from flask.wrappers import Response
from sqlalchemy.exc import OperationalError

from defectlog.bench.people import (
    ReaderMayNotError,
    find_device,
    is_due_to_be_seen,
    visitor_of,
    was_seen,
)
from defectlog.errors import DefectlogError
from defectlog.records.people import Device
from defectlog.web.network import Network, OwnNames, is_loopback
from defectlog.web.records import reading, records
from defectlog.web.who import OWNER, visitor

# All that a stranger on the workshop network can ask for. A new page is not among them.
FREE = frozenset(
    {
        "static",
        "entry.ask",
        "entry.enter",
        "entry.pairing",
        "entry.pair_device",
        "entry.waiting",
        "entry.come_in",
        "entry.certificate",
    }
)
# A reader changes nothing, but may go.
_READERS_TOO = FREE | {"entry.leave"}
_LOOKING = frozenset({"GET", "HEAD", "OPTIONS"})
_KEEPERS, _UNHEARD = "_keepers_only", "_not_in_the_clear"

_View = TypeVar("_View", bound=Callable[..., object])


class NotInError(DefectlogError):
    """Somebody asks who has not come in."""

    def __init__(self) -> None:
        super().__init__(
            "This device has not come in yet, or was cut off", "ask for a code at the PC"
        )


class ForKeepersError(DefectlogError):
    """Something is done at the PC, or with the passphrase, alone."""

    def __init__(self) -> None:
        super().__init__(
            "This is not done from a paired device",
            "do it at the PC, or come in with the passphrase over HTTPS",
        )


class OverheardError(DefectlogError):
    """Something that nobody should overhear was asked for over plain HTTP."""

    def __init__(self) -> None:
        super().__init__(
            "Anyone on this Wi-Fi could read that on its way, so it is not sent over plain HTTP",
            "do it at the PC, or start with defectlog serve --workshop --https",
        )


class NotOpenError(DefectlogError):
    """The network reached an app that was not opened to it."""

    def __init__(self) -> None:
        super().__init__(
            "These records are not open to the network",
            "start with defectlog serve --workshop at the PC",
        )


class ForeignPageError(DefectlogError):
    """A page of somebody else sent the change."""

    def __init__(self) -> None:
        super().__init__(
            "That did not come from a page of defectlog, nothing was changed",
            "open the page here and do it there",
        )


def keepers_only(view: _View) -> _View:
    """Mark a view: at the PC or with the passphrase only, and never over plain HTTP."""
    setattr(view, _KEEPERS, True)
    return not_in_the_clear(view)


def not_in_the_clear(view: _View) -> _View:
    """Mark a view: what it takes or gives does not travel the network over plain HTTP."""
    setattr(view, _UNHEARD, True)
    return view


def register(app: Flask, own: Network) -> None:
    """Put the door before everything else of the app."""
    app.extensions["network"] = own
    app.config["TRUSTED_HOSTS"] = OwnNames(own)
    app.session_interface = _Sessions()
    app.before_request(_check)
    app.after_request(_write_down)
    app.jinja_env.globals.update(visitor=visitor, network=own, at_the_pc=at_the_pc)


def network() -> Network:
    """How the running app is served."""
    return cast(Network, current_app.extensions["network"])


def at_the_pc() -> bool:
    """Whether the request comes from this very machine. Behind a proxy every one seems to."""
    return not network().proxies and is_loopback(request.remote_addr or "")


def is_unheard() -> bool:
    """Whether nobody can listen to this request on its way."""
    return request.is_secure or at_the_pc()


def _check() -> None:
    g.visitor = None
    # Reading the host checks it; under a name that is not ours nothing else is looked at.
    if not request.host:
        raise NotOpenError
    if network().is_open:
        _let_in()
    elif not is_loopback(request.remote_addr or ""):
        raise NotOpenError
    else:
        g.visitor = OWNER
    changes = request.method not in _LOOKING
    if changes:
        _check_origin()
    seen, endpoint = visitor(), request.endpoint
    if seen is None:
        if endpoint not in FREE:
            raise NotInError
    elif changes and not seen.may_change and endpoint not in _READERS_TOO:
        raise ReaderMayNotError
    view = current_app.view_functions.get(endpoint or "")
    if getattr(view, _UNHEARD, False) and network().is_open and not is_unheard():
        raise OverheardError
    if getattr(view, _KEEPERS, False) and not (seen and seen.keeps):
        raise ForKeepersError


def _let_in() -> None:
    key = request.cookies.get(cookie_name())
    if not key or request.endpoint == "static":
        return
    now = datetime.now(UTC)
    device = find_device(reading(), key, now)
    if device is not None:
        g.visitor = visitor_of(device)
        if is_due_to_be_seen(device, now):
            g.seen_device = device.id


def _check_origin() -> None:
    """A change has to come from a page of ours, whatever else it carries."""
    if request.headers.get("Sec-Fetch-Site", "same-origin") not in ("same-origin", "none"):
        raise ForeignPageError
    said = request.headers.get("Origin")
    if said is None and request.referrer:
        parts = urlsplit(request.referrer)
        said = f"{parts.scheme}://{parts.netloc}"
    if said is None:
        # Every browser says one of the two with a form; without either it is no page of ours.
        if network().is_open:
            raise ForeignPageError
    elif said != f"{request.scheme}://{request.host}":
        raise ForeignPageError


def _write_down(response: Response) -> Response:
    """Write down when the device was last here, after all else; it is no reason to fail."""
    number = g.pop("seen_device", None)
    if number is None:
        return response
    session = g.pop("reading", None)
    if session is not None:
        session.close()
    try:
        with records().write() as writing, writing.begin():
            was_seen(writing, number, datetime.now(UTC))
    except OperationalError:
        current_app.logger.warning("could not write down that device %s was here", number)
    return response


def cookie_name() -> str:
    """Under HTTPS the browser itself sees to it that no other page plants this cookie."""
    return "__Host-defectlog-key" if request.is_secure else "defectlog-key"


def hand_over(response: Response, device: Device, key: str) -> Response:
    """Give a device the key it was let in with."""
    response.set_cookie(
        cookie_name(),
        key,
        max_age=int((device.until - device.came_at).total_seconds()),
        httponly=True,
        secure=request.is_secure,
        samesite="Lax",
    )
    return response


def take_back(response: Response) -> Response:
    """Have the browser forget its key."""
    response.delete_cookie(cookie_name(), httponly=True, secure=request.is_secure, samesite="Lax")
    return response


class _Sessions(SecureCookieSessionInterface):
    """The session cookie: marked for HTTPS wherever it is used, for the PC itself has none."""

    def get_cookie_name(self, app: Flask) -> str:
        name = super().get_cookie_name(app)
        return f"__Host-{name}" if request.is_secure else name

    def get_cookie_secure(self, app: Flask) -> bool:
        return request.is_secure
