"""How long the pages over many builds take: 10 000 builds, 100 000 photos, 1 000 000 marks.

    python -m tests.benchmarks.trends_speed [--builds 10000] [--folder FOLDER] [--rounds 5] [--cpu]

Writes the workshop of ``large_shop`` in bulk (kept in FOLDER and used again), asks for every page
and file of the trends, trials, lessons, builds and the Bench through the app's test client, and
prints the median time and its ratio to a floor of the same run: one SQL aggregate, the mean void
fraction of every build of the largest part, over the same connection. Pages of one part are then
asked for on parts of 1, 2, 4, 8 and 16 shares of the builds, to see how they grow.
"""

import argparse
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from flask import Flask, url_for
from sqlalchemy import text

from defectlog.records.session import Records
from defectlog.web import create_app
from tests.benchmarks.large_shop import KINDS, SHARES, write_large_shop

LIMIT_MS = 300
clock = time.perf_counter
ROOMS = (
    "bench trends goes_with comparison trials lessons builds build_choice findings gallery"
).split()
_OF_SETS = ("trends", "goes_with", "comparison")
LARGEST = SHARES.index(max(SHARES)) + 1
GROWING = [SHARES.index(share) + 1 for share in (1, 2, 4, 8, 16)]
FLOOR = text(
    "SELECT photo.build_id, avg(measurement.void_fraction) FROM measurement "
    "JOIN photo ON photo.id = measurement.photo_id JOIN build ON build.id = photo.build_id "
    "WHERE build.part_id = :part GROUP BY photo.build_id"
)


def median_ms(work: Callable[[], object], rounds: int) -> float:
    """The median time of some rounds after one that warms up, by ``clock``."""
    work()
    times = []
    for _ in range(rounds):
        began = clock()
        work()
        times.append(1000 * (clock() - began))
    return statistics.median(times)


def floor_ms(records: Records, part: int, rounds: int) -> float:
    """One bare aggregate over the measurements of a part."""

    def ask() -> None:
        with records.read() as session:
            session.execute(FLOOR, {"part": part}).all()

    return median_ms(ask, rounds)


def addresses(app: Flask, part: int, builds: int) -> Iterator[tuple[str, str]]:
    """Every page and file of the rooms that needs nothing but a number, with its endpoint."""
    given = {"part_id": part, "part": part, "kind": KINDS[0], "form": "svg"}
    for rule in app.url_map.iter_rules():
        room = rule.endpoint.split(".")[0]
        if room not in ROOMS or "GET" not in (rule.methods or ()) or rule.endpoint == "static":
            continue
        number = {"builds": builds // 2, "findings": builds // 2, "lessons": 1, "trials": 1}
        values = given | {"number": number.get(room, 1)}
        # What is charted: the builds of the part; what is compared: with tack adhesive and without.
        asked: dict[str, object] = {}
        if room in _OF_SETS:
            asked = {"part": part, "fact": "tack_adhesive"}
        elif room == "build_choice":
            asked = {"tick": [1, 2, 3]}
        if rule.arguments <= values.keys():
            with app.test_request_context():
                yield (
                    rule.endpoint,
                    url_for(rule.endpoint, **asked | {a: values[a] for a in rule.arguments}),
                )


def time_pages(
    app: Flask, pages: Sequence[tuple[str, str]], rounds: int
) -> Iterator[tuple[str, str, float | str]]:
    """Endpoint, address and median time; words in place of a time where a page is not given."""
    client = app.test_client()
    for endpoint, address in pages:
        status = client.get(address).status_code
        if status >= 400:
            yield endpoint, address, f"answers {status}"
        else:
            yield endpoint, address, median_ms(lambda at=address: client.get(at).data, rounds)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--builds", type=int, default=10_000)
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--only", default="", help="only endpoints that hold this word")
    parser.add_argument(
        "--cpu", action="store_true", help="processor time, on a machine busy with other things"
    )
    asked = parser.parse_args()
    if asked.cpu:
        global clock
        clock = time.process_time
    folder = asked.folder or Path(tempfile.gettempdir()) / f"large-shop-{asked.builds}"
    size = write_large_shop(folder, asked.builds)
    print(
        f"{size.builds} builds, {size.photos} photos, {size.marks} marks, {size.findings} "
        f"findings, {size.measurements} measurements"
    )
    app = create_app(folder)
    records: Records = app.extensions["defectlog"][0]
    floor = floor_ms(records, LARGEST, asked.rounds)
    print(f"floor: one aggregate over the largest part, {floor:.1f} ms\n")
    pages = [p for p in addresses(app, LARGEST, size.builds) if asked.only in p[0]]
    print(f"{'page':44} {'ms':>7} {'floors':>7}")
    for endpoint, address, took in time_pages(app, pages, asked.rounds):
        if isinstance(took, str):
            print(f"{address[:44]:44} {took}")
        else:
            late = "  over 300 ms" if took > LIMIT_MS else ""
            print(f"{address[:44]:44} {took:7.0f} {took / floor:7.1f}  {endpoint}{late}")
    print("\nms on parts of", *(asked.builds * SHARES[p - 1] // 40 for p in GROWING), "builds")
    grows: dict[str, list[float | str]] = {}
    for part in GROWING:
        one_part = [
            page
            for page in addresses(app, part, size.builds)
            if asked.only in page[0] and page[0].split(".")[0] in _OF_SETS
        ]
        for endpoint, _, took in time_pages(app, one_part, asked.rounds):
            grows.setdefault(endpoint, []).append(took)
    for endpoint, times in grows.items():
        print(f"{endpoint:44}", *(f"{t:7.0f}" if isinstance(t, float) else t for t in times))
    records.close()


if __name__ == "__main__":
    main()
