"""What a photo, a mark and a measurement say to the key by themselves."""

import pytest
from sqlalchemy.orm import Session

from defectlog.bench.findings import add_mark
from defectlog.bench.known_signs import known_signs
from defectlog.records import Photo, Shape
from tests.builders import NOON, make_build, make_photo
from tests.measured import add_measurement

SQUARE = ((10, 10), (100, 10), (100, 100), (10, 100))


@pytest.fixture
def photo(session: Session) -> Photo:
    return make_photo(session, make_build(session))


def marked(session: Session, photo: Photo, shape: Shape, points, finding: int | None = None):
    kind = None if finding else "dry-spot"
    mark = add_mark(session, photo.id, shape, points, kind=kind, finding_number=finding, at=NOON)
    return mark.finding


def measured(session: Session, photo: Photo, *voids: tuple[float, float, str]) -> None:
    rows = [{"x": x, "y": y, "shape": shape} for x, y, shape in voids]
    add_measurement(session, photo, 0.01, result={"voids": rows})
    session.expire(photo)


def test_the_face_and_the_shape_of_the_mark_are_known(session: Session, photo: Photo) -> None:
    finding = marked(session, photo, Shape.LINE, ((10, 10), (90, 10)))

    assert known_signs(finding) == {"face": "tool side", "mark": "line"}


def test_marks_of_two_shapes_say_none(session: Session, photo: Photo) -> None:
    finding = marked(session, photo, Shape.LINE, ((10, 10), (90, 10)))
    marked(session, photo, Shape.POINT, ((50, 50),), finding.id)

    assert known_signs(finding) == {"face": "tool side"}


def test_voids_inside_the_mark_say_their_shape_and_those_outside_do_not(
    session: Session, photo: Photo
) -> None:
    finding = marked(session, photo, Shape.OUTLINE, SQUARE)
    measured(
        session, photo, (20, 20, "round"), (30, 90, "round"), (50, 50, "long"), (300, 20, "long")
    )

    assert known_signs(finding)["measured"] == "round"
    measured(session, photo, (20, 20, "round"), (50, 50, "long"), (300, 20, "long"))
    assert "measured" not in known_signs(finding)
    measured(session, photo, (300, 20, "long"))
    assert "measured" not in known_signs(finding)


def test_a_box_holds_voids_too(session: Session, photo: Photo) -> None:
    finding = marked(session, photo, Shape.BOX, ((10, 10), (100, 100)))
    measured(session, photo, (50, 50, "long"), (150, 50, "round"))

    assert known_signs(finding) == {"face": "tool side", "mark": "box", "measured": "long"}


def test_a_finding_on_no_photo_says_nothing(session: Session, photo: Photo) -> None:
    finding = marked(session, photo, Shape.LINE, ((10, 10), (90, 10)))
    photo.deleted_at = NOON

    assert known_signs(finding) == {}
