"""The cases of the third renderer: what each shows, and the bounds its seed draws between."""

from dataclasses import dataclass, replace

from tests.benchmarks.third_camera import Range
from tests.benchmarks.third_voids import Kind, Look, Voids


@dataclass(frozen=True, slots=True)
class Scene:
    """One case. What is a pair is drawn anew for each seed, between the two."""

    is_carbon: bool = False
    is_twill: bool = False
    voids: Voids | None = None
    px_per_mm: Range = (6, 40)
    tilt_deg: Range = (0, 0)
    has_tracer: bool = False
    has_peel: bool = False
    has_grooves: bool = False
    wrinkles: int = 0
    hairs: int = 0
    scratches: int = 0
    dust: int = 0
    glare: Range = (0, 0)  # share of the picture that a window fills
    is_poor: bool = False  # the camera, and the light: from end to end about 3 to 1
    shape: tuple[int, int] | None = None  # rows and columns
    seed: int = 0


FAINT, STRONG, PATCHES = (0.2, 0.4), (0.6, 0.92), (0.3, 0.6)
PALE = (0.4, 0.9)
TWILL = Scene(is_twill=True)

PINHOLES = Voids(Kind.PINHOLES, (0.001, 0.01))
FEW = replace(PINHOLES, fraction=(5e-5, 3e-4), d_px=(3, 7))
SMALL = replace(PINHOLES, fraction=(5e-4, 0.01), d_px=(3.2, 14), strength=FAINT)
GAPING = replace(PINHOLES, fraction=(0.001, 0.03), d_px=(3.2, 25), strength=STRONG, has_glints=True)
BRIGHT = replace(PINHOLES, fraction=(0.001, 0.015), d_px=(3.2, 16), strength=PALE, look=Look.BRIGHT)
BOTH = replace(PINHOLES, fraction=(0.002, 0.015), look=Look.BOTH)
MANY = replace(PINHOLES, fraction=(0.002, 0.02), d_px=(4, 18))
CLUSTER = Voids(Kind.CLUSTER, (0.001, 0.008), d_px=(3.2, 14))
LONG = Voids(Kind.LONG, (0.002, 0.02), d_px=(5, 20), strength=(0.35, 0.7))
DENSE = Voids(Kind.MIXED, (0.05, 0.15), d_px=(5, 40))
MIXED = Voids(Kind.MIXED, (0.003, 0.04), d_px=(4, 20))
DRY_DARK = Voids(Kind.DRY, (0.01, 0.06), strength=PATCHES)
DRY_BRIGHT = Voids(Kind.DRY, (0.01, 0.06), strength=PALE, look=Look.BRIGHT)

OF_BOTH: dict[str, Scene] = {
    "sound": Scene(),
    "sound, twill": TWILL,
    "sound, peel": Scene(has_peel=True),
    "sound, wrinkles": replace(TWILL, wrinkles=2),
    "sound, hairs": Scene(hairs=4, scratches=2),
    "sound, tracer": replace(TWILL, has_tracer=True),
    "sound, glare": Scene(glare=(0.02, 0.15)),
    "sound, dust": replace(TWILL, dust=300),
    "faint": Scene(voids=SMALL),
    "faint, twill": replace(TWILL, voids=SMALL),
    "strong": replace(TWILL, voids=GAPING),
    "few and small": Scene(voids=FEW),
    "dense": Scene(voids=DENSE),
    "dense, twill": replace(TWILL, voids=DENSE),
    "dry dark": Scene(voids=DRY_DARK),
    "dry bright": replace(TWILL, voids=DRY_BRIGHT),
    "elongated": Scene(voids=LONG),
    "cluster": replace(TWILL, voids=CLUSTER),
    "bright": Scene(voids=BRIGHT),
    "both": replace(TWILL, voids=BOTH),
    "glare": Scene(voids=MANY, glare=(0.03, 0.2)),
    "tilted": replace(TWILL, voids=MIXED, tilt_deg=(8, 15)),
    "tracer": Scene(voids=PINHOLES, has_tracer=True),
    "hairs": replace(TWILL, voids=PINHOLES, hairs=4, scratches=2, dust=150),
    "wrinkles": Scene(voids=PINHOLES, wrinkles=2),
    "peel": replace(TWILL, voids=PINHOLES, has_peel=True),
    "poor camera": Scene(voids=PINHOLES, is_poor=True),
}
# A core is seen through glass; through carbon nothing is, so it has two other cases instead.
OF_GLASS = {
    "sound, grooves": Scene(has_grooves=True),
    "grooves": Scene(voids=replace(PINHOLES, fraction=(0.003, 0.005)), has_grooves=True),
}
OF_CARBON = {
    "bright, twill": replace(TWILL, voids=BRIGHT),
    "dry dark, twill": replace(TWILL, voids=DRY_DARK),
}
SCENES: dict[str, Scene] = {
    f"{material}, {name}": replace(scene, is_carbon=material == "carbon")
    for material, cases in (("glass", OF_BOTH | OF_GLASS), ("carbon", OF_BOTH | OF_CARBON))
    for name, scene in cases.items()
}
