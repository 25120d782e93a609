"""Pages over many builds ask the records no more often the more builds there are.

How long they take with 10 000 builds: python -m tests.benchmarks.trends_speed
"""

from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask
from sqlalchemy import event

from defectlog.web import create_app
from tests.benchmarks.large_shop import SHARES, write_large_shop
from tests.benchmarks.trends_speed import addresses

BUILDS = 240


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Flask]:
    folder: Path = tmp_path_factory.mktemp("many")
    write_large_shop(folder, BUILDS)
    app = create_app(folder)
    yield app
    app.extensions["defectlog"][0].close()


def statements(app: Flask, address: str) -> int:
    """How many statements one page sends."""
    engine = app.extensions["defectlog"][0].engine
    sent: list[str] = []

    def note(_connection: object, _cursor: object, statement: str, *_more: object) -> None:
        sent.append(statement)

    event.listen(engine, "before_cursor_execute", note)
    answer = app.test_client().get(address)
    event.remove(engine, "before_cursor_execute", note)
    assert answer.status_code < 500, address
    return len(sent)


def test_every_page_and_file_of_the_large_shop_is_given(shop: Flask) -> None:
    given = list(addresses(shop, SHARES.index(16) + 1, BUILDS))

    assert {"trends.index", "trials.show", "lessons.index", "builds.index"} <= {e for e, _ in given}
    for _, address in given:
        # A picture of a trial nobody has looked at yet is refused in words; ticked builds lead on.
        assert shop.test_client().get(address).status_code in (200, 302, 422), address


@pytest.mark.parametrize("page", ["/trends/{part}", "/builds/?part={part}"])
def test_a_part_of_many_builds_takes_about_as_many_statements(shop: Flask, page: str) -> None:
    few, many = (SHARES.index(share) + 1 for share in (4, 16))  # 24 and 96 builds
    few_sent, many_sent = (statements(shop, page.format(part=part)) for part in (few, many))

    # A list shows more lines of the larger part, up to a page full; a chart asks once for all.
    per_line = 5 if "builds" in page else 0
    assert many_sent <= few_sent + 5 + per_line * (96 - 24)


def test_the_board_asks_less_than_twice_for_each_lesson(shop: Flask) -> None:
    # Of each of the 30 lessons only its finding is fetched by itself, and the cause's title.
    assert statements(shop, "/lessons/") < 2 * 30 + 30
