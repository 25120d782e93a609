"""Before and after: an earlier photo over a later one, and what became of its marks."""

import io

import cv2
import numpy as np
import pytest
from PIL import Image
from sqlalchemy import select

from defectlog.records import LaterLook, Mark, Photo, Shape
from tests.builders import make_build
from tests.two_views import photo, projection, surface

BEFORE, AFTER = projection(0, (0, 0)), projection(4, (30, -20), 5e-5)
PLACE = [[400.0, 300.0], [480.0, 300.0], [480.0, 360.0], [400.0, 360.0]]


@pytest.fixture
def build(kept) -> int:
    return kept(lambda session: make_build(session).id)


def send(client, build: int, grey: np.ndarray, stage: str, face: str = "tool side") -> int:
    file = io.BytesIO()
    Image.fromarray(grey).save(file, "JPEG", quality=92)
    file.seek(0)
    fields = {"face": face, "stage": stage, "photos": (file, f"{stage}.jpg")}
    answer = client.post(
        f"/builds/{build}/photos", data=fields, headers={"Accept": "application/json"}
    )
    return answer.json["photo_id"]


@pytest.fixture
def pair(client, build) -> str:
    """The address of two photos of one surface, with an outline on the earlier one."""
    grey = surface(3)
    before = send(client, build, photo(grey, BEFORE, seed=1), "at demould")
    after = send(client, build, photo(grey, AFTER, light=0.7, seed=2), "after repair")
    drawn = {"shape": "outline", "points": PLACE, "kind": "dry-spot"}
    assert client.post(f"/photos/{before}/marks", json=drawn).status_code == 201
    return f"/photos/{after}/before/{before}/"


def say(client, pair: str, said: str, mark: int = 1):
    return client.post(f"{pair}marks/{mark}", data={"said": said})


def text(answer) -> str:
    return " ".join(answer.get_data(as_text=True).replace("\xa0", " ").split())


def test_what_is_still_there_is_marked_where_it_lies_on_the_later_photo(client, pair, kept):
    assert "Laid over each other by" in text(client.get(pair))

    assert say(client, pair, "still there").status_code == 303

    truth = cv2.perspectiveTransform(np.array([PLACE]), AFTER @ np.linalg.inv(BEFORE))[0]
    carried = kept(lambda s: s.get(Mark, 2).points)
    assert np.abs(np.array(carried) - truth).max() < 2
    one, two = kept(lambda s: [s.get(Mark, number).finding_id for number in (1, 2)])
    assert one == two
    page = text(client.get(f"/findings/{one}"))
    assert "Before and after" in page


def test_the_earlier_photo_is_drawn_as_the_later_camera_saw_it(client, pair):
    answer = client.get(f"{pair}laid.jpg")
    laid = np.asarray(Image.open(io.BytesIO(answer.data)).convert("L"), dtype=float)
    number = int(pair.split("/")[2])
    later = client.get(f"/photos/{number}/image/view.jpg")
    seen = np.asarray(Image.open(io.BytesIO(later.data)).convert("L"), dtype=float)
    assert laid.shape == seen.shape
    middle = laid[200:600, 250:750].ravel()

    def likeness(right: int, down: int) -> float:
        """Pearson's coefficient against the later photo, so far beside its place."""
        beside = seen[200 + down : 600 + down, 250 + right : 750 + right]
        return float(np.corrcoef(middle, beside.ravel())[0, 1])

    shifts = [(right, down) for right in range(-9, 10, 3) for down in range(-9, 10, 3)]
    assert max(shifts, key=lambda shift: likeness(*shift)) == (0, 0)


def test_what_is_gone_is_said_at_the_finding_and_can_be_taken_back(client, pair, kept):
    finding = kept(lambda s: s.get(Mark, 1).finding_id)
    say(client, pair, "gone")
    assert "<b>Gone</b>" in client.get(f"/findings/{finding}").get_data(as_text=True)
    assert "Gone seen" in text(client.get(pair)).replace('</b> <span class="soft">', " ")

    say(client, pair, "take back")
    assert kept(lambda s: s.scalars(select(LaterLook)).all()) == []
    assert "<b>Gone</b>" not in client.get(f"/findings/{finding}").get_data(as_text=True)


def test_changing_ones_mind_leaves_one_look_and_no_stray_mark(client, pair, kept):
    for said in ("still there", "smaller", "gone", "smaller"):
        say(client, pair, said)
    looks = kept(lambda s: [look.said.value for look in s.scalars(select(LaterLook))])
    alive = kept(lambda s: s.scalars(select(Mark.id).where(Mark.deleted_at.is_(None))).all())
    assert looks == ["smaller"]
    assert len(alive) == 2


def test_of_a_closed_finding_nothing_more_is_said(client, pair, kept):
    finding = kept(lambda s: s.get(Mark, 1).finding_id)
    client.post(f"/findings/{finding}/outcome", data={"outcome": "repair", "once": "x"})
    answer = say(client, pair, "gone")
    assert answer.status_code == 422
    assert "is closed" in text(answer)
    assert "Its finding is closed (repair)" in text(client.get(pair))


def test_photos_that_do_not_match_stand_side_by_side(client, build, kept):
    before = send(client, build, photo(surface(11), BEFORE), "at demould")
    after = send(client, build, photo(surface(22, weave_deg=30), AFTER), "after repair")
    points = {"shape": "outline", "points": PLACE, "kind": "dry-spot"}
    client.post(f"/photos/{before}/marks", json=points)
    address = f"/photos/{after}/before/{before}/"

    page = text(client.get(address))
    assert "could not be laid over each other" in page
    assert client.get(f"{address}laid.jpg").status_code == 404
    answer = say(client, address, "still there")
    assert answer.status_code == 400
    assert "Open the later photo and mark it there" in text(answer)
    assert say(client, address, "gone").status_code == 303


def test_only_an_earlier_photo_of_the_same_face_is_laid_over(client, build):
    grey = photo(surface(3), BEFORE)
    tool = send(client, build, grey, "at demould")
    bag = send(client, build, photo(surface(3), AFTER), "after repair", face="bag side")
    later = send(client, build, photo(surface(3), AFTER, seed=5), "after repair")
    assert client.get(f"/photos/{later}/before/{tool}/").status_code == 200
    assert client.get(f"/photos/{bag}/before/{tool}/").status_code == 400
    assert client.get(f"/photos/{tool}/before/{later}/").status_code == 400
    assert client.get(f"/photos/{later}/before/99/").status_code == 404


def test_a_word_that_says_nothing_is_refused(client, pair, kept):
    assert say(client, pair, "better").status_code == 400
    assert kept(lambda s: s.scalars(select(LaterLook)).all()) == []


def test_a_mark_outside_the_later_photo_cannot_be_carried(client, pair, kept):
    def far(session):
        earlier = session.get(Photo, int(pair.split("/")[4]))
        mark = session.get(Mark, 1)
        mark.shape, mark.points = Shape.LINE, [[2, 2], [earlier.width_px - 2, 40]]

    kept(far)
    page = text(client.get(pair))
    assert "It lies outside the later photo" in page
    assert "Still there:" not in page
