"""A photo as the workshop takes it in: its file kept, its copies made, a build to hold it."""

from flask import Flask

from defectlog.bench.builds import start_build
from defectlog.bench.intake import take_in
from defectlog.records import Face, PhotoStage
from defectlog.web.records import store, transaction
from tests.builders import NOON, make_part


def photo_taken_in(
    app: Flask,
    picture: bytes,
    *,
    part_id: int | None = None,
    name: str = "door.jpg",
    face: Face = Face.TOOL,
) -> int:
    """The number of a demoulding photo on a build of its own, of that part or of a new one."""
    with app.app_context(), transaction() as session:
        part = make_part(session).id if part_id is None else part_id
        build = start_build(session, part, NOON)
        stage = PhotoStage.DEMOULD
        taken = take_in(
            session, store(), build.id, picture, name=name, face=face, stage=stage, at=NOON
        )
        return taken.photo.id
