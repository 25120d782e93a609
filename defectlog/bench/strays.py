"""Photo files that no record speaks of: what a kill between file and record leaves behind."""

import logging

from sqlalchemy import select
from sqlalchemy.orm import Session

from defectlog.photos.renditions import PhotoStore
from defectlog.records import Photo

log = logging.getLogger("defectlog")


def count_strays(session: Session, store: PhotoStore) -> int:
    """How many originals belong to no photo, deleted ones included; none is touched."""
    spoken_of = set(session.scalars(select(Photo.sha256)))
    return sum(sha256 not in spoken_of for sha256 in store.originals.kept())


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
