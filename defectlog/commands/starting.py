"""Start the app: on this workshop's records, or on the invented workshop."""

import os
import socket
import sys
import webbrowser
from pathlib import Path

import click

from defectlog.commands.shared import FOLDER, HOME
from defectlog.errors import FieldError

HERE_ONLY = ("127.0.0.1", "localhost", "::1")
DEMO = Path.home() / "defectlog-demo"

_PORT = click.option(
    "--port", type=click.IntRange(1, 65535), default=8031, show_default=True, help="Port."
)
_HOST = click.option("--host", default="127.0.0.1", show_default=True, help="This machine only.")
_OPEN = click.option("--open/--no-open", "opens", default=True, help="Open the browser.")


@click.command()
@FOLDER
@_HOST
@_PORT
@_OPEN
def serve(folder: Path | None, host: str, port: int, opens: bool) -> None:
    """Start on this workshop's records.

    \b
    Example:
        defectlog serve
    """
    _serve(folder or HOME, host, port, opens)


@click.command()
@FOLDER
@_HOST
@_PORT
@_OPEN
def demo(folder: Path | None, host: str, port: int, opens: bool) -> None:
    """Start on the invented workshop Heron Slip, in a folder of its own.

    \b
    Example:
        defectlog demo
    """
    from defectlog.demo.shop import ensure_demo

    _check_address(host, port)
    _serve(ensure_demo(folder or DEMO, _progress), host, port, opens)


def _progress(share: float, words: str) -> None:
    done = round(30 * share)
    bar = "#" * done + "." * (30 - done)
    click.echo(f"\r[{bar}] {100 * share:3.0f} %  {words:<40}", err=True, nl=share >= 1)


def _serve(folder: Path, host: str, port: int, opens: bool) -> None:
    import waitress

    from defectlog.web import create_app

    _check_address(host, port)
    app = create_app(folder)
    address = f"http://{'[::1]' if host == '::1' else host}:{port}/"
    click.echo(f"Records in {folder}")
    click.echo(f"Open {address} in a browser. Ctrl+C stops.")
    if opens and sys.stdout.isatty():
        webbrowser.open(address)
    waitress.serve(
        app,
        host=host,
        port=port,
        threads=6,
        connection_limit=500,
        channel_timeout=30,
        max_request_body_size=app.config["MAX_CONTENT_LENGTH"],
        ident=None,
    )


def _check_address(host: str, port: int) -> None:
    """Refuse to listen where phones or strangers could reach the records unasked."""
    if host not in HERE_ONLY:
        raise FieldError(
            "host",
            f"defectlog does not listen on {host}, its records would lie open to the network",
            "leave --host away and use it on this machine",
        )
    family = socket.AF_INET6 if host == "::1" else socket.AF_INET
    with socket.socket(family) as probe:
        if os.name == "posix":
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as error:
            raise FieldError(
                "port", f"Port {port} is in use", "give another one, such as --port 8032"
            ) from error
