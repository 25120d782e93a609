"""Photos of the invented workshop as pictures to be judged by: another hand drew them.

Nothing is tuned on these. They share no line of code with ``tests.pictures``: cloth from
tiles, a hand lamp, gloss and windows mirrored in it, perspective, pits with wavering rims.
"""

from math import exp, pi

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.demo.spec import (
    Camera,
    Crease,
    Defect,
    DrySpot,
    Lamp,
    PhotoSpec,
    Pinholes,
    Side,
    Surface,
)
from defectlog.demo.surfaces import render
from defectlog.demo.weave import Cloth
from tests.pictures import Drawn, Picture

SIZE_PX = (1800, 1356)  # width and height, in whole steps of the renderer
GLASS = Surface(Cloth.GLASS_PLAIN, Side.TOOL, 1.6)
CARBON = Surface(Cloth.CARBON_TWILL, Side.TOOL, 2.0, turn_deg=12.0)
BAG = Surface(Cloth.GLASS_PLAIN, Side.BAG, 1.6, turn_deg=-20.0)
CARBON_BAG = Surface(Cloth.CARBON_TWILL, Side.BAG, 2.0)
# A drawn pit is larger than its median: the spread of sizes and the wavering rim.
PIT_AREA = 1.007 * exp(2 * 0.32**2)


def pits(fraction: float, median_mm: float, surface_mm2: float) -> Pinholes:
    count = fraction * surface_mm2 / (pi / 4 * median_mm**2 * PIT_AREA)
    return Pinholes(round(count), median_mm)


def photo(
    surface: Surface,
    *,
    fraction: float = 0.0,
    median_mm: float = 0.6,
    px_per_mm: float = 10.5,
    others: tuple[Defect, ...] = (),
    tilt_deg: float = 0.0,
    blur_px: float = 0.9,
    falloff: float = 0.8,
    glare: float = 0.0,
) -> PhotoSpec:
    """A photo wholly filled by the face of a part."""
    reach = 0.8 * SIZE_PX[0] / px_per_mm
    holes = (pits(fraction, median_mm, (2 * reach) ** 2),) if fraction else ()
    return PhotoSpec(
        outline_mm=((-reach, -reach), (reach, -reach), (reach, reach), (-reach, reach)),
        surface=surface,
        camera=Camera(
            px_per_mm,
            tilt_x_deg=tilt_deg,
            width_px=SIZE_PX[0],
            height_px=SIZE_PX[1],
            blur_px=blur_px,
        ),
        lamp=Lamp(falloff=falloff, glare=glare),
        defects=(*holes, *others),
    )


SPECS: dict[str, PhotoSpec] = {
    "glass": photo(GLASS, fraction=0.02),
    "glass, sound": photo(GLASS),
    "glass, 6 px/mm": photo(GLASS, fraction=0.02, median_mm=0.9, px_per_mm=6),
    "glass, 20 px/mm": photo(GLASS, fraction=0.03, median_mm=0.4, px_per_mm=20),
    "glass, 36 px/mm": photo(GLASS, fraction=0.02, median_mm=0.3, px_per_mm=36),
    "glass, trace": photo(GLASS, fraction=0.002),
    "glass, dense": photo(GLASS, fraction=0.10, median_mm=1.0),
    "glass, tilted": photo(GLASS, fraction=0.02, tilt_deg=15),
    "glass, glare": photo(GLASS, fraction=0.02, glare=1.0),
    "glass, pinholes": photo(GLASS, fraction=0.006, median_mm=0.42),
    "glass, soft": photo(GLASS, fraction=0.02, median_mm=0.8, blur_px=2.0),
    "glass, pleat": photo(GLASS, fraction=0.01, others=(Crease(((-60, -30), (0, 0), (60, 20))),)),
    "glass, dry spots": photo(
        GLASS, others=(DrySpot((-25, 10), (24, 16)), DrySpot((35, -20), (18, 14)))
    ),
    "bag side": photo(BAG, fraction=0.015, median_mm=0.8),
    "bag side, sound": photo(BAG),
    "carbon": photo(CARBON, fraction=0.0095),
    "carbon, sound": photo(CARBON),
    "carbon, 20 px/mm": photo(CARBON, fraction=0.02, median_mm=0.4, px_per_mm=20),
    "carbon, trace": photo(CARBON, fraction=0.002),
    "carbon, 3 %": photo(CARBON, fraction=0.03, median_mm=0.8),
    "carbon, tilted": photo(CARBON, fraction=0.02, tilt_deg=12),
    "carbon, glare": photo(CARBON, fraction=0.02, glare=0.6),
    "carbon, glare, sound": photo(CARBON, glare=0.6),
    "carbon, bag side": photo(CARBON_BAG, fraction=0.01, median_mm=0.8),
    "carbon, dry spot": photo(CARBON, others=(DrySpot((0, 0), (26, 18)),)),
}


def picture(spec: PhotoSpec) -> Picture:
    """Render one of them, as the green of a JPEG file would keep it."""
    drawn, truth = render(spec)
    coded = cv2.imencode(".jpg", drawn[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 90])[1]
    grey = cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE)
    cover = truth.void_cover.astype(np.float32) / 255
    return Picture(grey, cover, joined(cover), truth.px_per_mm)


def joined(cover: NDArray[np.float32]) -> tuple[Drawn, ...]:
    """The voids that a cover holds: those that touch are one."""
    _, labels = cv2.connectedComponents((cover > 0).astype(np.uint8), ltype=cv2.CV_32S)
    y, x = np.nonzero(labels)
    label, weight = labels[y, x], cover[y, x]
    area = np.bincount(label, weight)[1:]
    places = [np.bincount(label, weight * at)[1:] / area for at in (x, y)]
    return tuple(
        Drawn(*void) for void in zip(*(values.tolist() for values in (*places, area)), strict=True)
    )
