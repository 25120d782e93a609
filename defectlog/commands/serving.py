"""Serve an app: the server's settings, and HTTPS in front of it where that was asked for."""

import datetime as dt
import os
import socket
import sys
import webbrowser
from dataclasses import replace
from pathlib import Path
from typing import Any

import click
import waitress
from flask import Flask

from defectlog.commands.opening import Opening, ask_passphrase, check_opening, network_for
from defectlog.errors import FieldError
from defectlog.web import create_app
from defectlog.web.certificate import own_papers
from defectlog.web.network import CLOSED, Network, certified_names
from defectlog.web.tls import Peers, TlsFront, tls_context

HERE_ONLY = ("127.0.0.1", "localhost", "::1")
EVERYWHERE = "0.0.0.0"
# Photos wait their turn in a thread each; pages must find one that is free all the same. A waiting
# thread costs nearly nothing.
THREADS = 24


def run(
    folder: Path,
    host: str,
    port: int,
    opens: bool,
    opening: Opening,
    database: str | None = None,
) -> None:
    """Open the records and serve them until Ctrl+C."""
    check_opening(opening)
    check_address(host, port)
    network, tls_port = network_for(opening, port) if opening.workshop else (CLOSED, 0)
    if opening.workshop and not opening.https and not opening.proxies:
        # Plain HTTP for the network, as the person asked; what may travel so, the door decides.
        host = EVERYWHERE
        check_free(host, port)
    peers, front = Peers(), None
    if tls_port:
        network, front = _https_front(network, folder, peers, port, tls_port)
    app = create_app(folder, database=database, network=network)
    if opening.workshop:
        ask_passphrase(app)
    if front:
        front.start()
    shown = {"::1": "[::1]", EVERYWHERE: "127.0.0.1"}.get(host, host)
    click.echo(f"Photos in {folder}, records in a database" if database else f"Records in {folder}")
    click.echo(f"Open http://{shown}:{port}/ in a browser. Ctrl+C stops.")
    if opening.workshop:
        click.echo(f"Phones use {network.base} once they are paired (Workshop, Devices).")
    if opens and sys.stdout.isatty():
        webbrowser.open(f"http://{shown}:{port}/")
    serve_app(app, host, port, peers, opening.proxies)


def serve_app(app: Flask, host: str, port: int, peers: Peers, proxies: int = 0) -> None:
    """Serve until Ctrl+C."""
    settings = server_settings(app.config["MAX_CONTENT_LENGTH"], proxies)
    waitress.serve(peers.tell_app(app), host=host, port=port, **settings)


def server_settings(most_bytes: int, proxies: int) -> dict[str, Any]:
    """Limits of the server, and whom it believes where a request came from.

    120 half-open connections stopped a server with the default limits; 500 are more than a workshop
    has, and a silent one is cut off within 40 s.
    """
    believed: dict[str, Any] = {}
    if proxies:
        believed = {
            "trusted_proxy": "127.0.0.1",
            "trusted_proxy_count": proxies,
            "trusted_proxy_headers": {"x-forwarded-for", "x-forwarded-proto"},
        }
    return {
        "threads": THREADS,
        "connection_limit": 500,
        "channel_timeout": 30,
        "cleanup_interval": 10,
        "asyncore_use_poll": True,
        "max_request_header_size": 32 * 1024,
        "max_request_body_size": most_bytes,
        "expose_tracebacks": False,
        "clear_untrusted_proxy_headers": True,
        "ident": None,
        **believed,
    }


def check_address(host: str, port: int) -> None:
    """Refuse to listen where phones or strangers could reach the records unasked."""
    if host not in HERE_ONLY:
        raise FieldError(
            "host",
            f"defectlog does not listen on {host}, its records would lie open to the network",
            "leave --host away; for phones use --workshop",
        )
    check_free(host, port)


def check_free(host: str, port: int) -> None:
    """Refuse a port that something else listens on."""
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


def _https_front(
    network: Network, folder: Path, peers: Peers, port: int, tls_port: int
) -> tuple[Network, TlsFront]:
    check_free(EVERYWHERE, tls_port)
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    papers = own_papers(folder / "https", certified_names(network), now=dt.datetime.now(dt.UTC))
    front = TlsFront(
        tls_context(papers.chain, papers.key),
        peers,
        host=EVERYWHERE,
        port=tls_port,
        server_port=port,
    )
    served = papers.chain.read_bytes()
    return replace(network, authority_pem=papers.authority_pem, certificate_pem=served), front
