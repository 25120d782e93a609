"""Eight phones hand in ten 12-megapixel photos each, all at once, and somebody looks at pages.

    python -m tests.benchmarks.load [--phones 8] [--photos 10]

A real ``defectlog serve`` in a process of its own. Prints how many photos were lost or refused, how
long a photo took, how long pages took meanwhile (the bar: 1 s at the 95th percentile), and the most
memory the server and its helpers held. On a machine that others use the times are theirs too: the
share of processor time that others took is printed beside them.
"""

import argparse
import hashlib
import http.client
import io
import os
import re
import socket
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from PIL import Image

WIDE, HIGH = 4000, 3000
BAR_S = 1.0
_TOKEN = re.compile(r'name="csrf-token" content="([^"]+)"')


@dataclass
class Tally:
    """What the phones and the reader saw."""

    saved: dict[str, float] = field(default_factory=dict)
    refused: list[str] = field(default_factory=list)
    pages: list[tuple[str, float]] = field(default_factory=list)
    wrong_pages: list[str] = field(default_factory=list)


def photo() -> bytes:
    """A 12-megapixel JPEG of some 5 MB: a woven surface with the noise of a camera."""
    rng = np.random.default_rng(21)
    y, x = np.mgrid[0:HIGH, 0:WIDE].astype(np.float32)
    weave = 128 + 18 * np.sin(x / 14) * np.sin(y / 14) + 10 * (x + y) / (WIDE + HIGH)
    noise = rng.normal(0, 7, (HIGH, WIDE, 3)).astype(np.float32)
    pixels = np.clip(weave[..., None] + noise, 0, 255).astype(np.uint8)
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "JPEG", quality=90)
    return out.getvalue()


def marked(jpeg: bytes, words: str) -> bytes:
    """The same photo as another file: a comment segment (JPEG, B.2.4.5) says which one it is."""
    said = words.encode()
    return jpeg[:2] + b"\xff\xfe" + (len(said) + 2).to_bytes(2, "big") + said + jpeg[2:]


class Phone:
    """One browser: a connection kept open, its cookie, its form token."""

    def __init__(self, port: int) -> None:
        self.connection = http.client.HTTPConnection("127.0.0.1", port, timeout=600)
        self.cookie = ""
        self.token = _TOKEN.search(self.get("/")[1].decode())[1]

    def get(self, path: str) -> tuple[int, bytes]:
        return self._ask("GET", path, None, {})

    def post(self, path: str, body: bytes, kind: str) -> tuple[int, bytes]:
        headers = {"Content-Type": kind, "X-CSRFToken": self.token}
        return self._ask("POST", path, body, {**headers, "Accept": "application/json"})

    def hand_in(self, build: int, data: bytes, name: str) -> tuple[int, bytes]:
        edge = "----photo-of-the-bench"
        head = (
            f'--{edge}\r\nContent-Disposition: form-data; name="photos"; filename="{name}"\r\n'
            "Content-Type: image/jpeg\r\n\r\n"
        )
        body = head.encode() + data + f"\r\n--{edge}--\r\n".encode()
        return self.post(f"/builds/{build}/photos", body, f"multipart/form-data; boundary={edge}")

    def _ask(
        self, method: str, path: str, body: bytes | None, headers: dict[str, str]
    ) -> tuple[int, bytes]:
        self.connection.request(method, path, body, {**headers, "Cookie": self.cookie})
        answer = self.connection.getresponse()
        if said := answer.headers.get("Set-Cookie"):
            self.cookie = said.partition(";")[0]
        return answer.status, answer.read()


@contextmanager
def serving(folder: Path) -> Iterator[tuple[int, subprocess.Popen[bytes]]]:
    """``defectlog serve`` on records of its own, answering."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [sys.executable, "-m", "defectlog", "serve", "--folder", str(folder)]
    process = subprocess.Popen(
        [*command, "--port", str(port), "--no-open"], stdout=subprocess.DEVNULL
    )
    try:
        for _ in range(600):
            with suppress(OSError):
                Phone(port)
                break
            time.sleep(0.1)
        yield port, process
    finally:
        process.terminate()
        process.wait()


def new_build(port: int) -> int:
    phone = Phone(port)
    form = "application/x-www-form-urlencoded"
    phone.post("/workshop/parts/new", b"name=Day-hatch+lid", form)
    phone.post("/builds/new", b"part=1&part_id=1", form)
    status, _ = phone.get("/builds/1")
    assert status == 200, "the build was not started"
    return 1


class Memory(threading.Thread):
    """The most memory a process and its children held, sampled (Linux only), in MiB."""

    def __init__(self, pid: int) -> None:
        super().__init__(daemon=True)
        self.pid, self.most_all, self.most_own = pid, 0.0, 0.0
        self.done = threading.Event()

    def run(self) -> None:
        while not self.done.wait(0.05):
            own = _held(self.pid)
            self.most_own = max(self.most_own, own)
            self.most_all = max(self.most_all, own + sum(map(_held, _children(self.pid))))


def _children(pid: int) -> list[int]:
    found = []
    for task in Path(f"/proc/{pid}/task").glob("*/children"):
        with suppress(OSError):
            found += [int(child) for child in task.read_text().split()]
    return found + [deeper for child in found for deeper in _children(child)]


def _held(pid: int) -> float:
    with suppress(OSError, IndexError):
        return int(Path(f"/proc/{pid}/statm").read_text().split()[1]) * 4096 / 2**20
    return 0.0


def _processor() -> tuple[float, float]:
    """Seconds all processors worked, and were there, since the start (Linux)."""
    ticks = [int(n) for n in Path("/proc/stat").read_text().split("\n")[0].split()[1:9]]
    each = os.sysconf("SC_CLK_TCK")
    return (sum(ticks) - ticks[3] - ticks[4]) / each, sum(ticks) / each


def run(folder: Path, phones: int, photos: int) -> int:
    jpeg = photo()
    with serving(folder) as (port, process):
        build = new_build(port)
        memory = Memory(process.pid)
        at_rest = _held(process.pid)
        memory.start()
        tally, over = Tally(), threading.Event()
        reader = threading.Thread(target=_read, args=(port, build, tally, over))
        handing = [
            threading.Thread(target=_hand_in, args=(port, build, jpeg, n, photos, tally))
            for n in range(phones)
        ]
        busy, there = _processor()
        own_before = _own_seconds(process.pid)
        begun = time.perf_counter()
        for thread in [reader, *handing]:
            thread.start()
        for thread in handing:
            thread.join()
        lasted = time.perf_counter() - begun
        others = 1 - (_own_seconds(process.pid) - own_before) / max(_processor()[0] - busy, 0.01)
        there = _processor()[1] - there
        over.set()
        reader.join()
        memory.done.set()
    lost = _lost(folder, tally)
    return _tell(tally, lost, phones * photos, lasted, others, memory, at_rest, len(jpeg))


def _own_seconds(pid: int) -> float:
    """Processor seconds of a process and the children it has waited for."""
    times = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[11:15]
    return sum(map(int, times)) / os.sysconf("SC_CLK_TCK")


def _hand_in(port: int, build: int, jpeg: bytes, n: int, photos: int, tally: Tally) -> None:
    phone = Phone(port)
    for m in range(photos):
        data = marked(jpeg, f"phone {n} photo {m}")
        begun = time.perf_counter()
        try:
            status, answer = phone.hand_in(build, data, f"phone-{n}-{m}.jpg")
        except OSError as error:
            tally.refused.append(repr(error))
            continue
        if status == 201:
            tally.saved[hashlib.sha256(data).hexdigest()] = time.perf_counter() - begun
        else:
            tally.refused.append(f"{status} {answer[:120]!r}")


def _read(port: int, build: int, tally: Tally, over: threading.Event) -> None:
    """Open the pages a person opens meanwhile, one every quarter of a second."""
    phone = Phone(port)
    for path in ("/guide/", "/trends/"):
        phone.get(path)  # the first look after a start reads the guide; that is not what is timed
    pages = ["/", f"/builds/{build}", "/builds/", "/photos/1", "/photos/1/state", "/guide/"]
    pages += ["/trends/", "/photos/1/image/view.jpg"]
    n = 0
    while not over.wait(0.25):
        path = pages[n % len(pages)]
        n += 1
        begun = time.perf_counter()
        status, _ = phone.get(path)
        tally.pages.append((path, time.perf_counter() - begun))
        # The first photo is not in yet when the first pages are asked for.
        if status != 200 and not (status == 404 and "/photos/" in path and not tally.saved):
            tally.wrong_pages.append(f"{status} {path}")


def _lost(folder: Path, tally: Tally) -> list[str]:
    """Photos that were said to be saved and have no row, or no file with just their bytes."""
    with sqlite3.connect(folder / "records.sqlite") as records:
        rows = {row[0] for row in records.execute("SELECT sha256 FROM photo")}
    files = {
        hashlib.sha256(file.read_bytes()).hexdigest()
        for file in (folder / "photos").rglob("*.jpg")
        if "-" not in file.stem
    }
    return [sha for sha in tally.saved if sha not in rows or sha not in files]


def _tell(
    tally: Tally,
    lost: list[str],
    sent: int,
    lasted: float,
    others: float,
    memory: Memory,
    at_rest: float,
    size: int,
) -> int:
    took = np.array(sorted(tally.saved.values()) or [np.nan])
    pages = np.array([seconds for _, seconds in tally.pages] or [np.nan])
    page_95 = float(np.percentile(pages, 95))
    print(
        f"{os.cpu_count()} processors; others took {100 * others:.0f} % of the work done meanwhile"
    )
    print(
        f"{sent} photos of 12 MP, {size / 2**20:.1f} MiB each, in {lasted:.1f} s"
        f" ({sent / lasted:.2f} a second)"
    )
    print(
        f"refused {len(tally.refused)}, lost {len(lost)}, pages gone wrong {len(tally.wrong_pages)}"
    )
    print(f"a photo: median {np.median(took):.1f} s, 95 % within {np.percentile(took, 95):.1f} s")
    print(
        f"a page: median {np.median(pages):.2f} s, 95 % within {page_95:.2f} s,"
        f" slowest {pages.max():.2f} s, of {len(pages)}"
    )
    for path in dict.fromkeys(path for path, _ in tally.pages):
        its = [seconds for other, seconds in tally.pages if other == path]
        print(f"    {path:<28} median {np.median(its):.2f} s, slowest {max(its):.2f} s")
    print(
        f"memory: {at_rest:.0f} MiB at rest, most {memory.most_own:.0f} MiB,"
        f" with its helpers {memory.most_all:.0f} MiB"
    )
    for words in (*tally.refused[:5], *tally.wrong_pages[:5]):
        print("   ", words)
    held = not (lost or tally.refused or tally.wrong_pages) and len(took) == sent
    print("held" if held and page_95 < BAR_S else "NOT HELD")
    return 0 if held and page_95 < BAR_S else 1


def main() -> int:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--phones", type=int, default=8)
    asked.add_argument("--photos", type=int, default=10)
    said = asked.parse_args()
    with tempfile.TemporaryDirectory(prefix="defectlog-load-") as folder:
        return run(Path(folder) / "records", said.phones, said.photos)


if __name__ == "__main__":
    sys.exit(main())
