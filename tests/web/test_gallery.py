"""Photos of all builds: who is found by what, page by page."""

import re
from datetime import timedelta

import pytest

from defectlog.bench.gallery import PAGE
from defectlog.records import Face, PhotoStage
from tests.builders import NOON, make_build, make_finding, make_part, make_photo


def shown(answer) -> list[int]:
    """The numbers of the photos on a page, as they stand there."""
    links = re.findall(r'<a href="/photos/(\d+)">', answer.get_data(as_text=True))
    return [int(number) for number in links]


@pytest.fixture
def shop(app):
    """Two parts; photos 1 and 2 of build 1, 3 of build 2, each unlike the others."""
    with app.extensions["defectlog"][0].write() as session, session.begin():
        door, lid = make_part(session), make_part(session, "Day-hatch lid")
        first, second = make_build(session, door), make_build(session, lid)
        one, two, three = (make_photo(session, build) for build in (first, first, second))
        two.face, two.stage = Face.BAG, PhotoStage.PEELED
        three.received_at = NOON + timedelta(days=3)
        make_finding(session, one, "dry-spot")
        make_finding(session, three, "peel-tear")
    return app


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ("", [3, 2, 1]),
        ("part=2", [3]),
        ("build=1", [2, 1]),
        ("kind=dry-spot", [1]),
        ("kind=warp", []),
        ("face=bag+side", [2]),
        ("stage=after+peel+ply", [2]),
        ("since=2026-03-04", [3]),
        ("until=2026-03-02", [2, 1]),
        ("since=2026-03-05&until=2026-03-05", [3]),
        ("part=1&kind=peel-tear", []),
    ],
)
def test_photos_are_found_by_each_thing_asked_of_them(shop, client, asked, found):
    assert shown(client.get(f"/photos/?{asked}")) == found


def test_a_deleted_photo_and_a_deleted_mark_are_not_found(shop, client):
    client.post("/photos/1/marks/1/delete")
    assert shown(client.get("/photos/?kind=dry-spot")) == []
    client.post("/photos/1/delete")
    assert shown(client.get("/photos/")) == [3, 2]


def test_pages_follow_each_other_without_gap_or_overlap(app, client):
    number = 2 * PAGE + 5
    with app.extensions["defectlog"][0].write() as session, session.begin():
        build = make_build(session)
        for _ in range(number):
            make_photo(session, build)
    seen: list[int] = []
    address = "/photos/?part=1"
    while address:
        answer = client.get(address)
        seen += shown(answer)
        older = re.search(r'href="([^"]*before=\d+)"', answer.get_data(as_text=True))
        address = older and older[1].replace("&amp;", "&")
    assert seen == list(range(number, 0, -1))


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ("build=twelve", "is no number: write it like 12."),
        ("since=31.3.2026", "is no day: write it like 2026-03-31."),
        ("since=2026-03-05&until=2026-03-01", "that day lies before the first one"),
        ("face=inside", "choose one of tool side, bag side, edge, core, other."),
    ],
)
def test_what_cannot_be_read_is_said_with_the_typed_kept(shop, client, asked, said):
    answer = client.get(f"/photos/?{asked}")
    page = answer.get_data(as_text=True)
    assert answer.status_code == 400
    assert said in page
    assert f'value="{asked.split("=")[-1]}"' in page or "face=" in asked


def test_thumbnails_wait_until_they_scroll_into_view(shop, client):
    page = client.get("/photos/").get_data(as_text=True)
    assert page.count("<img") == page.count('loading="lazy"') == 3


def test_an_empty_workshop_says_where_photos_come_from(client):
    assert "added on the page of their build" in client.get("/photos/").get_data(as_text=True)
