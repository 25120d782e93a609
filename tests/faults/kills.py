"""Kill the server in the middle of uploads and saves, and count what it had acknowledged and lost.

    python -m tests.faults.kills --kills 200

Photos are uploaded and forms saved by several clients at once; the server is killed with SIGKILL at
a random moment and started again on the same folder. A kill does not test what the disk would lose
in a power cut: ``power`` does.
"""

import argparse
import hashlib
import http.client
import json
import random
import re
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import select

from defectlog.bench.strays import count_strays
from defectlog.bench.upkeep import opened
from defectlog.bench.verify import verify
from defectlog.records import BuildFact, Mark, Photo
from tests.workshops import picture

CLIENTS = 3
STAGE = "layup"
PATIENCE_S = 60


@dataclass
class Counts:
    """What was counted; all but the strays should be 0 in the second half."""

    kills: int = 0
    photos_acknowledged: int = 0
    saves_acknowledged: int = 0
    cut_off: int = 0
    strays: int = 0
    lost: int = 0
    other_faults: list[str] = field(default_factory=list)

    @property
    def words(self) -> str:
        return (
            f"{self.kills} kills -9: {self.photos_acknowledged} photos and "
            f"{self.saves_acknowledged} saves acknowledged, {self.cut_off} cut off; "
            f"{self.lost} acknowledged lost, {len(self.other_faults)} other faults "
            f"(rows without a file, damage), {self.strays} files without a record"
        )


@dataclass
class Acknowledged:
    """What the server said it has, by what tells it apart."""

    photos: set[str] = field(default_factory=set)
    marks: set[str] = field(default_factory=set)
    facts: dict[str, float] = field(default_factory=dict)
    cut_off: int = 0
    lock: threading.Lock = field(default_factory=threading.Lock)


class Starter:
    """The process that servers are forked off, quickly: one that has all loaded and no threads.

    It is begun anew and not forked off this one, which may have any number of threads: of the
    clients, of a browser that other tests drive, of what reads photos. A fork in their midst hangs.
    """

    def __init__(self, folder: Path, listening: socket.socket) -> None:
        self._line, other = socket.socketpair()
        self._line.settimeout(PATIENCE_S)
        handles = (listening.fileno(), other.fileno())
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.faults.killed_server", str(folder), *map(str, handles)],
            cwd=Path(__file__).parents[2],
            pass_fds=handles,
        )
        other.close()
        self._said = self._line.makefile("rb")
        self._ask(b"begin\n")

    def start(self) -> None:
        self._ask(b"start\n")

    def kill(self) -> None:
        """Kill the server, and wait until it is gone."""
        self._ask(b"kill\n")

    def close(self) -> None:
        self._said.close()
        self._line.close()
        self._process.wait(PATIENCE_S)

    def _ask(self, what: bytes) -> None:
        self._line.sendall(what)
        assert self._said.readline() == b"done\n"


class Client(threading.Thread):
    """Uploads photos, draws marks and saves facts until told to stop."""

    def __init__(self, number: int, port: int, told: Acknowledged, seed: int) -> None:
        super().__init__(daemon=True)
        self._number, self._port, self._told = number, port, told
        self._random = random.Random(seed)
        self._turn = 0
        self.stopping = threading.Event()
        self._cookie = self._token = ""

    def run(self) -> None:
        while not self.stopping.is_set():
            try:
                if not self._token:
                    self._come_in()
                self._turn += 1
                (self._upload, self._mark, self._fact)[self._turn % 3]()
            except (OSError, http.client.HTTPException, ValueError):
                with self._told.lock:
                    self._told.cut_off += 1
                self._token = ""
                time.sleep(0.02)

    def _ask(self, method: str, path: str, body: bytes = b"", **headers: str) -> tuple[int, bytes]:
        line = http.client.HTTPConnection("127.0.0.1", self._port, timeout=20)
        try:
            sent = {"Cookie": self._cookie, "X-CSRFToken": self._token, **headers}
            if method == "POST":
                sent["Referer"] = f"http://127.0.0.1:{self._port}/"
            line.request(method, path, body, sent)
            answer = line.getresponse()
            data = answer.read()
            if cookie := answer.getheader("Set-Cookie"):
                self._cookie = cookie.partition(";")[0]
            return answer.status, data
        finally:
            line.close()

    def _come_in(self) -> None:
        self._cookie = ""
        _, page = self._ask("GET", "/builds/1")
        found = re.search(rb'name="csrf-token" content="([^"]+)"', page)
        if not found:
            raise ValueError("no token")
        self._token = found[1].decode()

    def _upload(self) -> None:
        # From 15 to 250 kB, each of its own.
        side = self._random.randrange(100, 400)
        data = picture(self._random.randrange(2**31), (side, side))
        edge = "edge-of-a-part"
        head = (
            f'--{edge}\r\nContent-Disposition: form-data; name="photos"; filename="a.jpg"\r\n\r\n'
        )
        body = head.encode() + data + f"\r\n--{edge}--\r\n".encode()
        kind = f"multipart/form-data; boundary={edge}"
        headers = {"Content-Type": kind, "Accept": "application/json"}
        status, answer = self._ask("POST", "/builds/1/photos", body, **headers)
        if status in (200, 201):
            json.loads(answer)
            with self._told.lock:
                self._told.photos.add(hashlib.sha256(data).hexdigest())

    def _mark(self) -> None:
        name = f"k-{self._number}-{self._random.randrange(2**40)}"
        mark = {
            "shape": "point",
            "points": [[5, 5]],
            "kind": "pinholes-tool",
            "client_id": name,
        }
        headers = {"Content-Type": "application/json", "Accept": "application/json"}
        sent = json.dumps(mark).encode()
        status, answer = self._ask("POST", "/photos/1/marks", sent, **headers)
        if status == 201:
            json.loads(answer)
            with self._told.lock:
                self._told.marks.add(name)

    def _fact(self) -> None:
        # Each client has a fact of its own, which only grows: the last acknowledged is the least.
        fact = ("ambient_c", "humidity_pct", "mould_temp_c")[self._number]
        value = 1 + self._turn / 1000
        body = f"{fact}={value}&once={self._random.randrange(2**60)}".encode()
        kind = {"Content-Type": "application/x-www-form-urlencoded"}
        status, _ = self._ask("POST", f"/builds/1/facts/{STAGE}", body, **kind)
        if status == 303:
            with self._told.lock:
                self._told.facts[fact] = value


def look(folder: Path, told: Acknowledged) -> tuple[int, int, list[str]]:
    """How many acknowledged things are lost, how many stray files there are, and other faults."""
    with opened(folder) as kept:
        seen = verify(kept, at=datetime.now(UTC))
        with kept.records.read() as session:
            strays = count_strays(session, kept.store)
            photos = set(session.scalars(select(Photo.sha256)))
            marks = set(session.scalars(select(Mark.client_id)))
            facts = {
                name: value
                for name, value in session.execute(select(BuildFact.name, BuildFact.value))
                if name in told.facts
            }
    lost = len(told.photos - photos) + len(told.marks - marks)
    lost += sum(facts.get(name, -1) < value for name, value in told.facts.items())
    return lost, strays, [fault.words for fault in seen.faults]


def run(
    kills: int, folder: Path, *, seed: int = 1, tell: Callable[[str], None] = lambda words: None
) -> Counts:
    """Kill so many times, and count; ``tell`` hears how it stands after every twenty."""
    chance = random.Random(seed)
    listening = socket.create_server(("127.0.0.1", 0))
    port = listening.getsockname()[1]
    server = Starter(folder, listening)
    told, counts = Acknowledged(), Counts()
    server.start()
    clients = [Client(n, port, told, seed=seed * 100 + n) for n in range(CLIENTS)]
    for client in clients:
        client.start()
    try:
        for _ in range(kills):
            _wait_for_more(told)
            time.sleep(chance.uniform(0, 0.4))
            server.kill()
            counts.kills += 1
            with told.lock:
                lost, counts.strays, faults = look(folder, told)
            counts.lost += lost
            counts.other_faults += faults
            counts.photos_acknowledged = len(told.photos)
            counts.saves_acknowledged = len(told.marks) + len(told.facts)
            if counts.kills % 20 == 0:
                tell(counts.words)
            server.start()
    finally:
        for client in clients:
            client.stopping.set()
        server.kill()
        server.close()
        listening.close()
        for client in clients:
            client.join(25)
    counts.photos_acknowledged = len(told.photos)
    counts.saves_acknowledged = len(told.marks) + len(told.facts)
    counts.cut_off = told.cut_off
    return counts


def _wait_for_more(told: Acknowledged) -> None:
    """Until a photo and a mark more are acknowledged: the server is up and at work."""
    photos, marks = len(told.photos), len(told.marks)
    patience = time.monotonic() + 30
    while len(told.photos) == photos or len(told.marks) == marks:
        if time.monotonic() > patience:
            raise RuntimeError("the server acknowledged nothing for 30 s")
        time.sleep(0.01)


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--kills", type=int, default=200)
    asked.add_argument("--seed", type=int, default=1)
    said = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        begun = time.monotonic()
        counts = run(said.kills, Path(folder) / "workshop", seed=said.seed, tell=print)
        print(f"{counts.words}; {time.monotonic() - begun:.0f} s")
        for fault in counts.other_faults[:20]:
            print("  ", fault)


if __name__ == "__main__":
    main()
