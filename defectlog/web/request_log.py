"""A line for each request, as JSON: which, from whom, how it ended. Never what was in it.

No address carries what was typed, no header, cookie, form or file name is written down.
"""

import json
import logging
import re
import secrets
import time
from datetime import UTC, datetime
from logging.handlers import RotatingFileHandler
from pathlib import Path

from flask import Flask, Response, g, has_request_context, request

from defectlog.web.who import who

FILE = "log/defectlog.jsonl"
ID_HEADER = "X-Request-Id"

_MOST_BYTES, _FILES = 5 * 2**20, 10
# What a secret could look like in the words of an error: long runs of letters and digits.
_SECRETIVE = re.compile(r"(?i)(key|token|code|passphrase|cookie|secret)([=: ]+)\S+")

log = logging.getLogger("defectlog")
requests_log = logging.getLogger("defectlog.requests")


def register(app: Flask, folder: Path) -> None:
    """Number every request, tell its number in the answer, and write a line when it is done."""
    app.before_request(_begin)
    app.after_request(_end)
    _write_to(folder / FILE)


def request_id() -> str:
    """The number of the request being answered; it stands in the log and on the fault page."""
    if not has_request_context():
        return ""
    if "request_id" not in g:
        g.request_id = secrets.token_hex(4)
    return str(g.request_id)


def _begin() -> None:
    g.begun = time.monotonic()
    request_id()


def _end(response: Response) -> Response:
    response.headers[ID_HEADER] = request_id()
    if request.endpoint != "static":
        begun = g.get("begun")
        requests_log.info(
            "request",
            extra={
                "about": {
                    "method": request.method,
                    # The rule and not the address: an address may carry what was typed.
                    "rule": request.url_rule.rule if request.url_rule else None,
                    "numbers": {k: v for k, v in (request.view_args or {}).items() if _plain(v)},
                    "status": response.status_code,
                    "ms": None if begun is None else round(1000 * (time.monotonic() - begun)),
                    "bytes_in": request.content_length or 0,
                    "who": who(),
                    "from": request.remote_addr,
                }
            },
        )
    return response


def _plain(value: object) -> bool:
    return isinstance(value, int)


class JsonLines(logging.Formatter):
    """One JSON object a line, so that no text from outside can forge a line."""

    def format(self, record: logging.LogRecord) -> str:
        line: dict[str, object] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "id": request_id(),
            "said": _SECRETIVE.sub(r"\1\2…", record.getMessage()),
        }
        line |= getattr(record, "about", {})
        if record.exc_info and record.exc_info[0] is not None:
            line["error"] = _SECRETIVE.sub(r"\1\2…", self.formatException(record.exc_info))
        return json.dumps(line, ensure_ascii=False, default=str)


class _QuietFile(RotatingFileHandler):
    """A full disk must not turn a page into an error: the line is lost, the page is not."""

    def handleError(self, record: logging.LogRecord) -> None:  # noqa: N802
        pass


def _write_to(file: Path) -> None:
    """Send the log into a file of the records' folder; only the newest folder is written to."""
    for old in [h for h in log.handlers if isinstance(h, _QuietFile)]:
        log.removeHandler(old)
        old.close()
    try:
        file.parent.mkdir(mode=0o700, exist_ok=True)
        handler = _QuietFile(
            file, maxBytes=_MOST_BYTES, backupCount=_FILES - 1, encoding="utf-8", delay=True
        )
    except OSError:
        return
    handler.setFormatter(JsonLines())
    log.addHandler(handler)
    # A line for each request belongs in the file, not on the screen of whoever started it.
    requests_log.propagate = False
    for old in list(requests_log.handlers):
        requests_log.removeHandler(old)
    requests_log.addHandler(handler)
    requests_log.setLevel(logging.INFO)
