"""Photos of laminates by a third hand, drawn to find what the other two hide.

What they show is drawn by no line of ``tests.pictures`` or of the demo: tows that each have a
place and a width, carbon lit as fibres and glass as a scattering lens, outlines in mm
subsampled into a cover, a camera with noise, sharpening and JPEG. ``third_scenes`` holds the
cases.
"""

from math import pi

import numpy as np
from numpy.random import Generator

from tests.benchmarks import third_light
from tests.benchmarks.second_renderer import joined
from tests.benchmarks.third_camera import Camera, View, log_uniform, over_pixels
from tests.benchmarks.third_cloth import Cloth, Field
from tests.benchmarks.third_scenes import Scene
from tests.benchmarks.third_shading import Face
from tests.benchmarks.third_voids import Ground, strewn
from tests.pictures import Picture

SHAPES = ((1224, 1632), (1356, 1808), (1500, 2000))  # rows and columns, 2 to 3 megapixels
SAMPLES = 2  # of the surface, each way in a pixel
ROWS = 16  # painted at a time: what fits the processor's cache is several times as fast
LEAST_PITCH_PX = 5.0
VEIL = 0.02  # stray light in the lens, at most
IN_A_VOID = 0.1  # of a mirrored window: a hollow has no gloss facing it
YARN_TINTS = {
    False: ((0.4, 0.5, 1.6), (1.6, 0.5, 0.4), (1.0, 1.0, 1.0)),
    True: ((1.3, 1.1, 0.3), (1.0, 1.0, 1.0)),
}


def picture(scene: Scene) -> Picture:
    """Render one of them. The scale is that of the middle, the truth that of the pixels."""
    rng = np.random.default_rng(scene.seed)
    view = _view(rng, scene)
    face = _face(rng, scene, view)
    light, tracer = painted(face, view)
    ground, cover = Ground.of(rng, face, view, light), np.zeros_like(light)
    if scene.voids:
        light, cover = strewn(rng, ground, scene.voids)
    seen = _lit(rng, scene, ground, light, cover)
    camera = Camera.drawn(rng, is_poor=scene.is_poor)
    grey = camera.taken(seen, _tint(rng, scene, tracer), rng)
    return Picture(grey, cover, joined(cover), view.px_per_mm)


def _view(rng: Generator, scene: Scene) -> View:
    shape = scene.shape or SHAPES[int(rng.integers(len(SHAPES)))]
    scale, azimuth = log_uniform(rng, scene.px_per_mm), rng.uniform(0, 2 * pi)
    return View.of(shape, scale, tilt_deg=rng.uniform(*scene.tilt_deg), azimuth=azimuth)


def _face(rng: Generator, scene: Scene, view: View) -> Face:
    pitch_mm = rng.uniform(1.2, 2.6) if scene.is_carbon else rng.uniform(0.7, 2.2)
    cloth = Cloth.woven(
        rng,
        is_carbon=scene.is_carbon,
        is_twill=scene.is_twill,
        pitch_mm=max(pitch_mm, LEAST_PITCH_PX / view.px_per_mm),
    )
    return Face.laid_up(
        rng,
        cloth,
        is_carbon=scene.is_carbon,
        has_tracer=scene.has_tracer,
        has_peel=scene.has_peel,
        has_grooves=scene.has_grooves,
    )


def painted(face: Face, view: View) -> tuple[Field, Field | None]:
    """The light of every pixel in even light, and how far it is tracer yarn."""
    rows, columns = view.shape
    light, tracer = np.empty(view.shape, np.float32), np.zeros(view.shape, np.float32)
    for top in range(0, rows, ROWS):
        band = slice(top, min(rows, top + ROWS)), slice(0, columns)
        fine, yarn = face.light(*view.samples(band, SAMPLES))
        light[band] = over_pixels(fine, SAMPLES)
        if yarn is not None:
            tracer[band] = over_pixels(yarn, SAMPLES)
    return light, tracer if face.tracer else None


def _lit(rng: Generator, scene: Scene, ground: Ground, light: Field, cover: Field) -> Field:
    """What reaches the lens, 1 the white of the sensor."""
    shape, scale = light.shape, ground.view.px_per_mm
    ratio = rng.uniform(2.5, 3.5) if scene.is_poor else rng.uniform(1.2, 2.5)
    lamp = third_light.uneven(rng, shape, ratio)
    if scene.wrinkles:
        azimuth = ground.face.lamp.azimuth
        lamp *= third_light.wrinkles(rng, shape, scale, scene.wrinkles, azimuth)
    exposed = rng.uniform(0.09, 0.18) if scene.is_carbon else rng.uniform(0.22, 0.42)
    # The camera sets itself by the face as it would be without voids.
    seen = light * lamp * (exposed / float((ground.light * lamp).mean()))
    if scene.hairs:
        length_px, width_px = (
            (8 * scale, 45 * scale),
            (max(1, 0.05 * scale), max(1.6, 0.09 * scale)),
        )
        hair = third_light.lines(rng, shape, scene.hairs, length_px, width_px)
        seen *= 1 - rng.uniform(0.5, 0.85) * hair
    if scene.scratches:
        length_px = (10 * scale, 60 * scale)
        scratch = third_light.lines(rng, shape, scene.scratches, length_px, (0.7, 1.8))
        seen *= 1 + (-0.3, 0.4)[int(rng.integers(2))] * scratch
    if scene.dust:
        seen += exposed * third_light.dust(rng, shape, scene.dust)
    if scene.glare[1]:
        window = third_light.mirrored(rng, shape, scale, rng.uniform(*scene.glare))
        seen += (0.7 if scene.is_carbon else 0.9) * window * (1 - (1 - IN_A_VOID) * cover)
    return seen + rng.uniform(0, VEIL)


def _tint(rng: Generator, scene: Scene, tracer: Field | None) -> list[Field | float]:
    """What red, green and blue see of the light: resin is a little tinted, yarn may be dyed."""
    tint = (1 + rng.normal(0, 0.02 if scene.is_carbon else 0.06, 3)).tolist()
    if tracer is None:
        return tint
    dyes = YARN_TINTS[scene.is_carbon]
    dye = dyes[int(rng.integers(len(dyes)))]
    return [share * (1 + tracer * (of_yarn - 1)) for share, of_yarn in zip(tint, dye, strict=True)]
