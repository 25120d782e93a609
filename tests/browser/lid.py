"""A rendered photo of a lid with pinholes, a dry spot and the scale card, and its truth."""

from dataclasses import dataclass
from datetime import UTC, datetime

from defectlog.demo.camera import as_jpeg
from defectlog.demo.spec import (
    Camera,
    DrySpot,
    LaidCard,
    PhotoSpec,
    Pinholes,
    Side,
    Surface,
    Truth,
)
from defectlog.demo.surfaces import render
from defectlog.demo.weave import Cloth

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
PX_PER_MM = 8.0
WIDTH_PX, HEIGHT_PX = 1200, 900
SPEC = PhotoSpec(
    outline_mm=((-70, -50), (70, -50), (70, 50), (-70, 50)),
    surface=Surface(Cloth.GLASS_PLAIN, Side.TOOL, 1.6),
    camera=Camera(PX_PER_MM, width_px=WIDTH_PX, height_px=HEIGHT_PX),
    defects=(Pinholes(40, 0.9), DrySpot((40, -20), (34, 24))),
    card=LaidCard("id1", (-30, 28)),
    seed=4,
)


@dataclass(frozen=True)
class Lid:
    """The photo as a file, and the truth about it."""

    jpeg: bytes
    truth: Truth

    @property
    def dry_spot(self) -> list[tuple[float, float]]:
        return next(d.outline_px for d in self.truth.defects if d.kind == "dry-spot")


def photograph() -> Lid:
    picture, truth = render(SPEC)
    return Lid(as_jpeg(picture, NOON), truth)
