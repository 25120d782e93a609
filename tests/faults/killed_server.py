"""Fork servers of a workshop and kill them, as told over a socket; ``kills`` starts this.

    python -m tests.faults.killed_server FOLDER LISTENING-HANDLE LINE-HANDLE

It hears ``begin``, ``start`` and ``kill``, a line each, and answers ``done``.
"""

import os
import signal
import socket
import sys
from collections.abc import Callable
from pathlib import Path

import waitress

from defectlog.web import create_app
from tests.workshops import make_workshop


def obey(folder: Path, listening: socket.socket, line: socket.socket) -> None:
    """Do what is asked until the line is closed; a server never outlives it."""
    server = 0
    for asked in line.makefile("rb"):
        if asked == b"begin\n":
            # Once, for everything to be loaded; then the workshop, in a process of its own.
            create_app(folder).extensions["defectlog"][0].close()
            _wait_for(_forked(lambda: make_workshop(folder, photos=1).records.close()))
        elif asked == b"start\n":
            server = _forked(lambda: _serve(folder, listening, line))
        else:
            os.kill(server, signal.SIGKILL)
            _wait_for(server)
            server = 0
        line.sendall(b"done\n")
    if server:
        os.kill(server, signal.SIGKILL)


def _forked(work: Callable[[], None]) -> int:
    process = os.fork()
    if not process:
        try:
            work()
        finally:
            os._exit(0)
    return process


def _wait_for(process: int) -> None:
    os.waitpid(process, 0)


def _serve(folder: Path, listening: socket.socket, line: socket.socket) -> None:
    line.close()
    waitress.serve(create_app(folder), sockets=[listening], threads=6, ident=None)


if __name__ == "__main__":
    where, listening_handle, line_handle = sys.argv[1:]
    obey(
        Path(where),
        socket.socket(fileno=int(listening_handle)),
        socket.socket(fileno=int(line_handle)),
    )
