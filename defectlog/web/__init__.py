"""The web face: HTTP in, bench functions called, pages out."""

import importlib
import importlib.util
import logging
import os
import re
import secrets
from pathlib import Path

from flask import Flask, Response, request
from flask_wtf.csrf import CSRFProtect
from werkzeug.routing import IntegerConverter

from defectlog import __version__
from defectlog.bench.in_use import use
from defectlog.bench.opening import open_for_work
from defectlog.disk import flush_file, flush_folder
from defectlog.paths import web_folder
from defectlog.web import bounds, door, faults, no_text, request_log, words
from defectlog.web.network import CLOSED, Network
from defectlog.web.once import once_token
from defectlog.web.records import attach

_BLUEPRINTS = (
    "before_after",
    "bench",
    "build_choice",
    "builds",
    "comparison",
    "devices",
    "entry",
    "findings",
    "gallery",
    "goes_with",
    "guide",
    "how",
    "intake",
    "lessons",
    "live",
    "own",
    "own_fixes",
    "parts",
    "photos",
    "sharing",
    "printed",
    "reports",
    "tiles",
    "trends",
    "trials",
    "upkeep",
)

CONTENT_SECURITY_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; "
    "connect-src 'self'; worker-src 'self'; font-src 'self'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'"
)

# A photo is taken through the file field; nothing else of the device is ever asked for.
PERMISSIONS_POLICY = "camera=(self), geolocation=(), microphone=(), payment=(), usb=()"

_KEY_BYTES = 32
_KEY = re.compile(r"[0-9a-f]{64}")


def create_app(folder: Path, *, database: str | None = None, network: Network = CLOSED) -> Flask:
    """Make the app on the records in ``folder`` (made if new), its tables brought up to date.

    ``database`` is the address of a PostgreSQL database, if the tables are not to be in the
    folder's own SQLite file. ``network`` says who can reach it; this PC alone, if nothing is said.
    """
    kept = open_for_work(folder, database)
    app = Flask(
        "defectlog",
        static_folder=str(web_folder("static")),
        template_folder=str(web_folder("templates")),
    )
    app.config.update(
        RECORDS_FOLDER=folder.resolve(),
        SECRET_KEY=_secret_key(folder),
        MAX_CONTENT_LENGTH=bounds.BATCH_BYTES,
        SESSION_COOKIE_SAMESITE="Lax",
        SESSION_COOKIE_NAME="defectlog",
        # A build page may stay open on the bench overnight.
        WTF_CSRF_TIME_LIMIT=None,
        SESSION_COOKIE_HTTPONLY=True,
    )
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True

    attach(app, kept.records, kept.store)
    app.extensions["defectlog in use"] = use(folder)

    app.url_map.converters["int"] = RecordNumber
    request_log.register(app, folder)
    # Before anything else looks at the request: is it for us, from whom, and how much is it?
    door.register(app, network)
    bounds.register(app)
    CSRFProtect(app)
    no_text.register(app)
    faults.register(app)
    words.register(app)
    app.jinja_env.globals["once_token"] = once_token
    app.jinja_env.globals["version"] = __version__
    app.jinja_env.globals["has_endpoint"] = lambda name: name in app.view_functions
    app.after_request(_guard)
    for name in _BLUEPRINTS:
        if importlib.util.find_spec(f"defectlog.web.{name}") is None:
            continue
        app.register_blueprint(importlib.import_module(f"defectlog.web.{name}").bp)
    logging.getLogger("defectlog").setLevel(logging.INFO)
    return app


class RecordNumber(IntegerConverter):
    """A number in an address, no larger than a record can have."""

    def __init__(self, *args: object, **more: object) -> None:
        more.setdefault("max", 2**31 - 1)
        super().__init__(*args, **more)  # type: ignore[arg-type]


def _guard(response: Response) -> Response:
    headers = response.headers
    headers.setdefault("Content-Security-Policy", CONTENT_SECURITY_POLICY)
    headers.setdefault("X-Content-Type-Options", "nosniff")
    headers.setdefault("Referrer-Policy", "same-origin")
    headers.setdefault("Cross-Origin-Opener-Policy", "same-origin")
    headers.setdefault("Cross-Origin-Resource-Policy", "same-origin")
    # For browsers that do not know frame-ancestors.
    headers.setdefault("X-Frame-Options", "DENY")
    headers.setdefault("Permissions-Policy", PERMISSIONS_POLICY)
    if request.endpoint != "static":
        # What the records say is kept in no cache; pictures say for themselves how long.
        headers.setdefault(
            "Cache-Control", "private, no-cache" if _may_go_back(response) else "no-store"
        )
    return response


def _may_go_back(response: Response) -> bool:
    """Whether a page came of a form that was sent, as one that is refused does.

    No browser asks for such a page anew by itself: going back to it, a person would find the
    browser's own page instead of what was typed. Who lets whom in is kept nowhere all the same.
    """
    is_page = request.method == "POST" and response.mimetype == "text/html"
    return is_page and request.blueprint not in ("entry", "devices")


def _secret_key(folder: Path) -> str:
    """The key that signs sessions, made once for each folder of records."""
    file = folder / "session.key"
    if key := _kept_key(file):
        return key
    passing = folder / f".session.key-{os.getpid()}"
    try:
        with open(os.open(passing, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as out:
            out.write(secrets.token_hex(_KEY_BYTES).encode())
            out.flush()
            flush_file(out.fileno())
        # Another process that starts at the same moment may have been quicker.
        if key := _kept_key(file):
            return key
        os.replace(passing, file)
        flush_folder(folder)
    finally:
        passing.unlink(missing_ok=True)
    return file.read_text("ascii")


def _kept_key(file: Path) -> str:
    """The key in a file; none where a full disk or a power cut left something else."""
    try:
        key = file.read_text("ascii", "replace")
    except FileNotFoundError:
        return ""
    return key if _KEY.fullmatch(key) else ""
