"""An app on a real port, in a thread of its own, for browsers and clocks."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager

from flask import Flask
from werkzeug.serving import WSGIRequestHandler, make_server


class _Quiet(WSGIRequestHandler):
    """Forty lines for every page would bury what a failing test has to say."""

    def log_request(self, code: int | str = "-", size: int | str = "-") -> None:
        pass


@contextmanager
def serving(app: Flask) -> Iterator[str]:
    """Where the app is served meanwhile."""
    server = make_server("127.0.0.1", 0, app, threaded=True, request_handler=_Quiet)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}"
    server.shutdown()
    thread.join()
