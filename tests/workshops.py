"""A small workshop on the disk, with real photo files, findings and measurements in it."""

import io
from datetime import timedelta
from pathlib import Path

import numpy as np
from PIL import Image
from sqlalchemy.orm import Session

from defectlog.bench.decisions import decide
from defectlog.bench.intake import take_in
from defectlog.bench.overlay import mask_to_png
from defectlog.bench.upkeep import PHOTOS_FOLDER, RECORDS_FILE, Kept
from defectlog.photos.renditions import PhotoStore
from defectlog.records import Build, Face, Outcome, Photo, PhotoStage
from defectlog.records.migrating import migrate
from defectlog.records.session import Records, sqlite_address
from tests.builders import NOON, make_build, make_finding
from tests.measured import add_measurement

LATER = NOON + timedelta(hours=2)


def picture(seed: int, size: tuple[int, int] = (80, 60)) -> bytes:
    """A JPEG of its own for each seed."""
    grey = np.random.default_rng(seed).integers(60, 190, (size[1], size[0], 3), dtype=np.uint8)
    file = io.BytesIO()
    Image.fromarray(grey).save(file, "JPEG")
    return file.getvalue()


def take_photo(session: Session, store: PhotoStore, build: Build, seed: int) -> Photo:
    words = {"name": f"lid-{seed}.jpg", "face": Face.TOOL, "stage": PhotoStage.DEMOULD, "at": NOON}
    photo = take_in(session, store, build.id, picture(seed), **words).photo
    session.flush()
    session.expire(build, ["photos"])
    return photo


def make_workshop(folder: Path, *, photos: int = 3, database: str | None = None) -> Kept:
    """A workshop with one build, its photos, a closed finding and a measurement."""
    folder.mkdir(parents=True, exist_ok=True)
    records = Records(database or sqlite_address(folder / RECORDS_FILE))
    migrate(records.engine)
    store = PhotoStore(folder / PHOTOS_FOLDER)
    with records.write() as session, session.begin():
        build = make_build(session, cure_c=21.5, process="infusion")
        taken = [take_photo(session, store, build, seed) for seed in range(photos)]
        finding = make_finding(session, taken[0], points=((5, 5), (50, 40)))
        decide(session, finding.id, Outcome.REPAIR, reason="sanded, filled", at=LATER)
        voids = np.zeros((60, 80), dtype=bool)
        voids[10:16, 20:30] = True
        masks = {
            "voids_png": mask_to_png(voids),
            "inspected_png": mask_to_png(np.ones_like(voids)),
        }
        add_measurement(session, taken[0], 0.0123, **masks)
    return Kept(folder, records, store)
