"""An hour at the mould in one go, each deed said aloud once the app has acknowledged it.

    python -m tests.faults.busy_hour FOLDER

``power`` watches it; the folder holds a workshop of ``make_workshop`` with one photo.
"""

import hashlib
import io
import os
import re
import sys
from pathlib import Path

from werkzeug.test import TestResponse

from defectlog.records import Outcome
from defectlog.web import create_app
from tests.workshops import picture

BASE = "http://localhost"
_TOKEN = re.compile(r'name="csrf-token" content="([^"]+)"')


class Hand:
    """The person at the PC."""

    def __init__(self, folder: Path) -> None:
        self._client = create_app(folder).test_client()
        page = self._client.get("/builds/1", base_url=BASE).text
        self._headers = {
            "X-CSRFToken": _TOKEN.search(page)[1],
            "Referer": f"{BASE}/",
            "Accept": "application/json",
        }

    def send(self, path: str, **more: object) -> TestResponse:
        answer = self._client.post(path, base_url=BASE, headers=self._headers, **more)
        if answer.status_code >= 400:
            raise RuntimeError(f"{path}: {answer.status} {answer.text[:500]}")
        return answer

    def upload(self, seed: int) -> int:
        data = picture(seed, (120 + seed, 90))
        answer = self.send("/builds/1/photos", data={"photos": (io.BytesIO(data), f"{seed}.jpg")})
        say("photo", hashlib.sha256(data).hexdigest())
        return int(answer.json["url"].rsplit("/", 1)[1])

    def mark(self, photo: int, name: str) -> None:
        mark = {"shape": "point", "points": [[5, 5]], "kind": "pinholes-tool", "client_id": name}
        self.send(f"/photos/{photo}/marks", json=mark)
        say("mark", name)


def say(*words: object) -> None:
    # In one stroke, whatever the output is.
    os.write(1, f"{' '.join(map(str, words))}\n".encode())


def work(folder: Path) -> None:
    """Photos, marks, a fact, a measurement, a decision, the bin, a backup."""
    hand = Hand(folder)
    first, second = hand.upload(20), hand.upload(21)
    hand.mark(first, "power-1")
    hand.send("/builds/1/facts/layup", data={"ambient_c": "21.25"})
    say("fact", "ambient_c", 21.25)
    measured = hand.send(f"/photos/{first}/measurements", json={"region": None}).json
    say("measured", measured["measurement_id"])
    hand.mark(first, "power-2")
    hand.send("/findings/2/outcome", data={"outcome": Outcome.REPAIR.value, "reason": "filled"})
    say("closed", 2)
    hand.send(f"/photos/{second}/delete")
    say("binned", second)
    hand.upload(22)
    hand.send("/workshop/backup")
    say("emptying", second)
    hand.send("/workshop/bin/empty")
    say("emptied", second)
    hand.upload(23)


if __name__ == "__main__":
    work(Path(sys.argv[1]))
