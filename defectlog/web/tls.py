"""HTTPS in front of the server: waitress reads plain HTTP alone, so this undoes TLS before it.

A listener of the standard library takes the connection, and hands what is inside to the server on
this PC. Which of the server's connections are such, and who is at their other end, it notes in a
table of this very process: no header says it, so none can lie. The server goes on gathering slow
uploads by itself, and a handshake that never ends holds up nobody else. (A server with TLS of its
own was looked at: cheroot does the handshake in its one accepting thread, so that a single silent
connection stops it; cherrypy/cheroot issue 748, open.)
"""

import asyncio
import logging
import ssl
import threading
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

log = logging.getLogger("defectlog")

MOST_CONNECTIONS = 300
_HANDSHAKE_S = 10
# Longer than the server itself keeps a silent connection.
_SILENT_S = 120
_PIECE = 64 * 1024

_Wsgi = Callable[[dict[str, Any], Any], Iterable[bytes]]


@dataclass(slots=True)
class Peers:
    """Who is behind a connection from this PC to the server, by that connection's own port."""

    _by_port: dict[int, str] = field(default_factory=dict)

    def tell_app(self, app: _Wsgi) -> _Wsgi:
        """Wrap a WSGI app: requests that came by TLS say so, and where they came from."""

        def wrapped(environ: dict[str, Any], start_response: Any) -> Iterable[bytes]:
            peer = self._by_port.get(int(environ.get("REMOTE_PORT") or 0))
            if peer is not None and environ.get("REMOTE_ADDR") == "127.0.0.1":
                environ["REMOTE_ADDR"] = environ["REMOTE_HOST"] = peer
                environ["wsgi.url_scheme"] = "https"
            return app(environ, start_response)

        return wrapped

    def enter(self, port: int, peer: str) -> None:
        self._by_port[port] = peer

    def leave(self, port: int) -> None:
        self._by_port.pop(port, None)


def tls_context(chain: Path, key: Path) -> ssl.SSLContext:
    """TLS 1.2 and later, as the standard library's own settings have it."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    context.load_cert_chain(chain, key)
    return context


class TlsFront:
    """Listens for HTTPS on all addresses and hands on to the server on this PC."""

    def __init__(
        self, context: ssl.SSLContext, peers: Peers, *, host: str, port: int, server_port: int
    ) -> None:
        self._context = context
        self._peers = peers
        self._host, self.port = host, port
        self._server_port = server_port
        self._open = 0
        self._loop = asyncio.new_event_loop()
        self._server: asyncio.Server | None = None
        self._thread = threading.Thread(target=self._run, name="tls", daemon=True)
        self._ready = threading.Event()
        self._fault: OSError | None = None

    def start(self) -> None:
        """Listen from now on. An ``OSError`` if the port is taken."""
        self._thread.start()
        self._ready.wait()
        if self._fault:
            raise self._fault

    def stop(self) -> None:
        """Stop listening and drop what is under way."""
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(timeout=5)

    def _run(self) -> None:
        asyncio.set_event_loop(self._loop)
        try:
            self._server = self._loop.run_until_complete(
                asyncio.start_server(
                    self._serve,
                    self._host,
                    self.port,
                    ssl=self._context,
                    ssl_handshake_timeout=_HANDSHAKE_S,
                    limit=_PIECE,
                )
            )
            self.port = self._server.sockets[0].getsockname()[1]
        except OSError as error:
            self._fault = error
            return
        finally:
            self._ready.set()
        self._loop.set_exception_handler(_say_quietly)
        self._loop.run_forever()
        self._server.close()
        for task in asyncio.all_tasks(self._loop):
            task.cancel()
        self._loop.run_until_complete(asyncio.sleep(0))
        self._loop.close()

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        if self._open >= MOST_CONNECTIONS:
            writer.close()
            return
        self._open += 1
        try:
            await self._hand_on(reader, writer)
        except (OSError, ssl.SSLError, TimeoutError):
            pass  # one of the two went away
        finally:
            self._open -= 1
            writer.close()

    async def _hand_on(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        peer = writer.get_extra_info("peername")
        inner_reader, inner_writer = await asyncio.open_connection(
            "127.0.0.1", self._server_port, limit=_PIECE
        )
        port = inner_writer.get_extra_info("sockname")[1]
        # Noted before the first byte goes on: the server cannot see a request before it is known.
        self._peers.enter(port, peer[0] if peer else "unknown")
        try:
            await _both_ways((reader, inner_writer), (inner_reader, writer))
        finally:
            inner_writer.close()
            with suppress(OSError):
                await inner_writer.wait_closed()
            # The port is free for others only once the connection is gone.
            self._peers.leave(port)


async def _both_ways(
    *ways: tuple[asyncio.StreamReader, asyncio.StreamWriter],
) -> None:
    tasks = [asyncio.ensure_future(_pump(reader, writer)) for reader, writer in ways]
    # When one side is done the other has nothing left to say: HTTP needs both.
    _, pending = await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
    for task in pending:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)


async def _pump(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    while piece := await asyncio.wait_for(reader.read(_PIECE), _SILENT_S):
        writer.write(piece)
        await writer.drain()


def _say_quietly(_loop: asyncio.AbstractEventLoop, context: dict[str, Any]) -> None:
    # Scanners and phones that do not trust the certificate break off; that is no fault of ours.
    log.debug("tls: %s", context.get("message"))
