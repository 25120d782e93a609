"""A real Chromium, and a real server on a workshop of its own."""

import shutil
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask
from werkzeug.serving import WSGIRequestHandler, make_server

from defectlog.web import create_app

FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


class _Quiet(WSGIRequestHandler):
    """Forty lines for every page would bury what a failing test has to say."""

    def log_request(self, code: int | str = "-", size: int | str = "-") -> None:
        pass


@pytest.fixture(scope="session")
def chromium() -> Iterator[object]:
    """The system's Chromium, or the one that came with playwright."""
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    system = shutil.which("chromium") or shutil.which("chromium-browser")
    with playwright.sync_playwright() as driver:
        try:
            browser = driver.chromium.launch(executable_path=system, args=list(FLAGS))
        except playwright.Error as error:
            pytest.skip(f"no Chromium to drive: {error.message.splitlines()[0]}")
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def workshop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Flask]:
    """The app as a maker runs it, CSRF protection and all; empty at first."""
    made = create_app(Path(tmp_path_factory.mktemp("workshop")))
    yield made
    made.extensions["defectlog"][0].close()


@pytest.fixture(scope="module")
def address(workshop: Flask) -> Iterator[str]:
    """Where the workshop is served."""
    server = make_server("127.0.0.1", 0, workshop, threaded=True, request_handler=_Quiet)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}"
    server.shutdown()
    thread.join()
