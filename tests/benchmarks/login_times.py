"""Whether the time of a refusal tells anything about the passphrase.

    python -m tests.benchmarks.login_times [--tries 50]

Four sorts of try go in turn to an app of their own each: a wrong passphrase, one of 300 characters,
nothing at all, and a wrong one where none was ever set. What is told is the median of each against
that of the first, and how long one may be slower than another by chance alone: the same sort twice.
"""

import argparse
import tempfile
import time
from pathlib import Path
from statistics import median

from flask import Flask

from defectlog.records import FailedTry
from defectlog.web import create_app
from defectlog.web.network import Network
from tests.web.browsers import Browser, keep_passphrase

HERE = Network(True, "http://hatch.local:8031", ("hatch.local",))
SORTS = {
    "wrong": "tide lamp rudder rope",
    "wrong once more": "tide lamp rudder mast",
    "300 characters": "x" * 300,
    "nothing": "",
    "wrong, and none is set": "tide lamp rudder rope",
}


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--tries", type=int, default=50)
    options = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        with_one = create_app(Path(folder) / "with", network=HERE)
        keep_passphrase(with_one)
        without = create_app(Path(folder) / "without", network=HERE)
        took: dict[str, list[float]] = {sort: [] for sort in SORTS}
        for _ in range(options.tries):
            for sort, words in SORTS.items():
                took[sort].append(seconds(without if "none" in sort else with_one, words))
        for app in (with_one, without):
            app.extensions["defectlog"][0].close()
    first = median(took["wrong"])
    for sort, times in took.items():
        told = f"{sort:24} {1000 * median(times):6.1f} ms, {median(times) / first:.3f} times"
        print(f"{told} (bar 0.8 to 1.2)")


def seconds(app: Flask, words: str) -> float:
    """How long one refusal takes; the count of tries is cleared first, for it would slow them."""
    with app.extensions["defectlog"][0].write() as session, session.begin():
        session.query(FailedTry).delete()
    browser = Browser(app, address="127.0.0.1")
    token = browser.token("/enter")
    begun = time.perf_counter()
    answer = browser.bare_post("/enter", {"csrf_token": token, "passphrase": words})
    took = time.perf_counter() - begun
    assert answer.status_code == 403, answer.text[:300]
    return took


if __name__ == "__main__":
    main()
