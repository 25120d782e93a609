"""Photo files that no record speaks of: what a kill between file and record leaves behind."""

import logging
import os
import time
from pathlib import Path

from sqlalchemy import select, text
from sqlalchemy.orm import Session

from defectlog.photos.inventory import SET_ASIDE, take_inventory
from defectlog.photos.originals import storage_faults
from defectlog.photos.renditions import PhotoStore
from defectlog.records import Photo

log = logging.getLogger("defectlog")

# A photo has its file before its record: one younger than this may still be on its way.
ON_ITS_WAY_S = 600.0


def count_strays(session: Session, store: PhotoStore) -> int:
    """How many originals belong to no photo, deleted ones included; none is touched."""
    kept = set(store.originals.kept())
    return len(kept - set(session.scalars(select(Photo.sha256))))


def is_on_its_way(file: Path) -> bool:
    """Whether a file is so young that its record may only be coming."""
    try:
        return time.time() - file.stat().st_mtime < ON_ITS_WAY_S
    except FileNotFoundError:  # set aside meanwhile, or out of the bin
        return True


def count_settled_strays(session: Session, store: PhotoStore) -> int:
    """How many originals belong to no photo and are not on their way either."""
    stray = set(store.originals.kept()) - set(session.scalars(select(Photo.sha256)))
    with storage_faults("read"):
        return sum(not is_on_its_way(store.originals.path(sha256)) for sha256 in stray)


def tell_strays(session: Session, store: PhotoStore) -> None:
    """Say in the log how many there are, if any."""
    count = count_strays(session, store)
    if count:
        log.warning(
            "%d photo file%s in %s with no record: taking them in was cut off, or another start "
            "is taking them in now. They are left as they are; sent again, a photo finds its file.",
            count,
            "" if count == 1 else "s",
            store.originals.folder,
        )


def set_aside(session: Session, store: PhotoStore) -> int:
    """Move the originals that belong to no photo into a folder beside; how many that were.

    None is deleted, and those that may be on their way stay. The session must be one for changes:
    while it holds its lock, no photo is entered into the records.
    """
    folder = store.originals.folder
    if session.get_bind().dialect.name == "postgresql":
        session.execute(text("LOCK TABLE photo IN SHARE ROW EXCLUSIVE MODE"))
    inventory = take_inventory(folder)
    spoken_of = set(session.scalars(select(Photo.sha256)))
    moved = 0
    with storage_faults("written"):
        for sha256, file in inventory.originals.items():
            if sha256 not in spoken_of and not is_on_its_way(file):
                (folder / SET_ASIDE).mkdir(mode=0o700, exist_ok=True)
                os.replace(file, folder / SET_ASIDE / file.name)
                store.remove_copies(sha256)
                moved += 1
    return moved
