"""A photograph of laminate, rendered with known truth: the steps in order, nothing else."""

from math import cos, radians, sin

import cv2
import numpy as np

from defectlog.demo import light
from defectlog.demo.camera import FOCAL_IN_WIDTHS, STEP_PX, View, develop, look, stretched
from defectlog.demo.cards import card_picture
from defectlog.demo.defects import draw
from defectlog.demo.sheet import Sheet
from defectlog.demo.spec import Outline, PhotoSpec, Side, Surface, Truth, fill
from defectlog.demo.weave import Bytes, Cloth, Floats, named_tile, shrunk, smooth_noise

_PEEL_PITCH_MM = 0.46
_BENCH_TILE_MM = {"plywood": 210.0, "mat": 80.0, "paint": 260.0}


def render(spec: PhotoSpec) -> tuple[Bytes, Truth]:
    """Render one photo.

    Returns
    -------
    picture : (H, W, 3) uint8
        Red, green, blue, as a phone would develop it; upright.
    truth : Truth
        What was drawn. Equal specs give equal pictures.
    """
    rng = np.random.default_rng(spec.seed)
    view = look(spec.camera)
    places_mm = view.coarse_mm()
    part_px = view.points_px(spec.outline_mm)
    holes_px = tuple(view.points_px(hole) for hole in spec.holes_mm)
    card_px = None
    if spec.card is not None:
        picture, corners_mm = card_picture(spec.card)
        card_px = view.points_px(corners_mm)

    planes, weave = _laminate(spec, view, places_mm, rng)
    free = _part_mask(spec, part_px, holes_px)
    if card_px is not None:
        fill(free, card_px, 0)
    sheet = Sheet(planes, weave, np.zeros(weave.shape, np.uint8), spec, view, free)
    for number, defect in enumerate(spec.defects):
        draw(sheet, defect, np.random.default_rng((spec.surface_seed, number)))

    lamp = light.lamp_field(spec.lamp, view, rng)
    _light_up(sheet, lamp, rng)
    shadow = light.shadow_field(part_px, spec.lamp, view, spec.thickness_mm * view.camera.px_per_mm)
    bench = _bench(spec, view, places_mm, lamp * shadow)
    _edge(spec, bench, (part_px, *holes_px), rng)
    _lay_on(planes, bench, _part_mask(spec, part_px, holes_px, soft=True))
    if card_px is not None:
        _lay_card(planes, picture, card_px, lamp)
    truth = Truth(
        void_cover=sheet.void_cover,
        part_px=part_px,
        holes_px=holes_px,
        card_px=card_px,
        px_per_mm=view.scale_at(spec.camera.look_at_mm),
        defects=tuple(sheet.drawn),
    )
    return develop(planes, spec.camera.blur_px, rng), truth


def _part_mask(
    spec: PhotoSpec, part_px: Outline, holes_px: tuple[Outline, ...], *, soft: bool = False
) -> Bytes:
    mask = np.zeros((spec.camera.height_px, spec.camera.width_px), np.uint8)
    fill(mask, part_px, 255, soft=soft)
    for hole in holes_px:
        fill(mask, hole, 0, soft=soft)
    return mask


def _laminate(
    spec: PhotoSpec, view: View, places_mm: Floats, rng: np.random.Generator
) -> tuple[list[Floats], Floats]:
    """The sound surface, unlit: blue, green, red, and the sheen of its weave about 0."""
    surface, lamp = spec.surface, spec.lamp
    turned = _turned(places_mm, surface.turn_deg)
    for axis in range(2):
        # Hand-laid tows wander, and the whole cloth is pulled a little askew.
        turned[..., axis] += 0.45 * surface.pitch_mm * smooth_noise(rng, turned.shape[:2], 7)
        turned[..., axis] += 0.10 * surface.pitch_mm * smooth_noise(rng, turned.shape[:2], 60)
    looked_up = _look_up(surface.cloth.value, turned, surface.pitch_mm, view)
    warp, weft, height = cv2.split(looked_up)

    # Fibres throw light back square to themselves, so one direction of tow is the brighter.
    meets = np.deg2rad(lamp.from_deg - surface.turn_deg)
    bag = surface.side is Side.BAG
    if surface.cloth is Cloth.CARBON_TWILL:
        warp_gain, weft_gain = 0.55 + 0.45 * cos(meets) ** 2, 0.55 + 0.45 * sin(meets) ** 2
        sheen = _weigh(warp, 0.20 * warp_gain) + _weigh(weft, 0.20 * weft_gain)
        sheen += _weigh(height, 0.030)
        mean = float(sheen[::16, ::16].mean())
        weave = sheen - mean
        tone = (0.55 if bag else 0.62) * weave + mean
        tone = (tone + (0.055 if bag else 0.030)) * (0.85 if bag else 0.72)
        tints = (1.0, 0.97, 0.95)
    else:
        warp_gain, weft_gain = 0.75 + 0.25 * cos(meets) ** 2, 0.75 + 0.25 * sin(meets) ** 2
        sheen = _weigh(warp, 0.20 * warp_gain) + _weigh(weft, 0.20 * weft_gain)
        sheen += _weigh(height, 0.06)
        mean = float(sheen[::16, ::16].mean())
        weave = sheen - mean
        tone = (0.45 if bag else 0.70) * weave + (0.37 if bag else 0.27)
        tints = _glass_tints(surface)
    slow = _depth(surface, places_mm, rng) + _unequal_tows(surface, turned, rng)
    if spec.radius_mm is not None:
        slow = (1 + slow) * _fillet(spec, places_mm) - 1
    tone *= stretched(1 + slow, view.camera)
    if bag:
        tone *= _peel_print(spec, view, places_mm, rng)
    return [tone * tint for tint in tints], weave


def _glass_tints(surface: Surface) -> tuple[float, float, float]:
    """Wet-out glass over pale foam: greenish, more amber the older the resin."""
    amber = surface.amber - (0.12 if surface.side is Side.BAG else 0.0)
    return (0.83 - 0.36 * amber, 1.0 - 0.08 * amber, 0.94 + 0.10 * amber)


def _unequal_tows(surface: Surface, turned_mm: Floats, rng: np.random.Generator) -> Floats:
    """No two bobbins are alike: bands of cloth a few tows wide, a little lighter or darker."""
    tone = np.zeros(turned_mm.shape[:2], np.float32)
    for axis in range(2):
        gains = rng.normal(0, 0.03, 512).astype(np.float32)
        at = turned_mm[..., axis] / (1.5 * surface.pitch_mm)
        tow = np.floor(at).astype(np.intp)
        share = at - tow
        tone += gains[tow % 512] * (1 - share) + gains[(tow + 1) % 512] * share
    return tone


def _fillet(spec: PhotoSpec, places_mm: Floats) -> Floats:
    """Shading where the laminate turns up into a flange along a line."""
    start, end = (np.asarray(point) for point in spec.radius_mm)
    unit = (end - start) / np.hypot(*(end - start))
    beyond = (places_mm[..., 0] - start[0]) * -unit[1] + (places_mm[..., 1] - start[1]) * unit[0]
    normal = np.array([-unit[1], unit[0]])
    angle = radians(spec.lamp.from_deg)
    faces = -float(normal @ [cos(angle), sin(angle)])
    turned_up = 0.5 + 0.5 * np.tanh(beyond / 3.0)
    crease = np.exp(-(((beyond + 1) / 3.2) ** 2))
    return (1 + 0.55 * faces * turned_up - 0.22 * crease).astype(np.float32)


def _depth(surface: Surface, places_mm: Floats, rng: np.random.Generator) -> Floats:
    """Slow differences of tone: resin depth, and the grooves of the foam showing faintly."""
    shape = places_mm.shape[:2]
    tone = 0.05 * smooth_noise(rng, shape, 6) + 0.025 * smooth_noise(rng, shape, 24)
    if surface.cored and surface.cloth is Cloth.GLASS_PLAIN:
        turned = _turned(places_mm, 4.0)
        for axis in range(2):
            off = np.abs((turned[..., axis] + 11) % 30 - 15)
            tone -= 0.075 * np.exp(-((off / 2.6) ** 2))
    return tone.astype(np.float32)


def _peel_print(spec: PhotoSpec, view: View, places_mm: Floats, rng: np.random.Generator) -> Floats:
    turned = _turned(places_mm, spec.surface.turn_deg + float(rng.normal(0, 4)))
    for axis in range(2):
        turned[..., axis] += 0.5 * smooth_noise(rng, turned.shape[:2], 5)
    slope_x, slope_y, glints = cv2.split(_look_up("peel", turned, _PEEL_PITCH_MM, view))
    angle = radians(spec.lamp.from_deg - spec.surface.turn_deg)
    print_ = _weigh(slope_x, 0.55 * cos(angle)) + _weigh(slope_y, 0.55 * sin(angle))
    print_ += 1 - 0.275 * (cos(angle) + sin(angle))
    return print_ + _weigh(glints, 0.35)


def _turned(places_mm: Floats, turn_deg: float) -> Floats:
    a = radians(turn_deg)
    x, y = places_mm[..., 0], places_mm[..., 1]
    return np.dstack([x * cos(a) + y * sin(a), -x * sin(a) + y * cos(a)])


def _look_up(name: str, places_mm: Floats, pitch_mm: float, view: View) -> Bytes:
    """A tile laid over the picture by places on the coarse grid, repeating without a seam."""
    covers_mm = named_tile(name).repeats * pitch_mm
    wanted = covers_mm * view.camera.px_per_mm * 1.1
    planes = shrunk(name, max(64, round(wanted / 32) * 32))
    side = planes.shape[0]
    at = places_mm * np.float32(side / covers_mm)
    # The wrap of the look-up works best on coordinates that are not far below zero.
    at -= np.floor(at.reshape(-1, 2).min(0) / side) * side
    x, y = (stretched(np.ascontiguousarray(at[..., axis]), view.camera) for axis in range(2))
    return cv2.remap(planes, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)


def _weigh(plane: Bytes, gain: float) -> Floats:
    """A plane of bytes as light: 255 becomes ``gain``."""
    return cv2.multiply(plane, gain / 255, dtype=cv2.CV_32F)


def _light_up(sheet: Sheet, lamp: Floats, rng: np.random.Generator) -> None:
    """Lamp, gloss and glare on the surface, in place."""
    spec, view = sheet.spec, sheet.view
    window, hot = light.gloss_field(spec.lamp, spec.surface, view, rng)
    lit = stretched(lamp, view.camera)
    added = stretched(window, view.camera)
    if spec.lamp.glare > 0:
        # Glare breaks up on the crowns of the weave.
        broken = cv2.min(cv2.max(sheet.weave * 5 + 1, 0.3), 2.0)
        added = added + stretched(hot, view.camera) * broken
    if sheet.carbon:
        # A pit in the gloss mirrors nothing.
        added = added * (1 - _weigh(sheet.void_cover, 0.85))
    warm = spec.lamp.warmth
    for plane, tint in zip(sheet.planes, (1 - 0.25 * warm, 1.0, 1 + 0.12 * warm), strict=True):
        cv2.multiply(plane, lit, dst=plane, scale=tint)
        cv2.scaleAdd(added, tint, plane, dst=plane)


def _bench(spec: PhotoSpec, view: View, places_mm: Floats, lamp: Floats) -> list[Floats]:
    turned = _turned(places_mm, 8.0 + spec.seed % 11)
    looked_up = _look_up(spec.bench, turned + 37.0, _BENCH_TILE_MM[spec.bench], view)
    lit = stretched(np.ascontiguousarray(lamp), view.camera)
    return [cv2.multiply(plane, lit, scale=0.9 / 255, dtype=cv2.CV_32F)
            for plane in cv2.split(looked_up)]  # fmt: skip


def _edge(
    spec: PhotoSpec, bench: list[Floats], outlines_px: tuple[Outline, ...], rng: np.random.Generator
) -> None:
    """The cut edge as far as it can be seen: skin, core, skin, drawn over the bench."""
    camera = spec.camera
    drop = spec.thickness_mm * camera.px_per_mm
    middle = np.array([camera.width_px / 2, camera.height_px / 2])
    shrink = FOCAL_IN_WIDTHS * camera.width_px
    shrink = shrink / (shrink + drop)
    lean = np.array([sin(radians(camera.tilt_y_deg)), -sin(radians(camera.tilt_x_deg))]) * drop
    toward = radians(spec.lamp.from_deg)
    toward = np.array([cos(toward), sin(toward)])
    skin = (0.14, 0.20, 0.19) if spec.surface.cloth is Cloth.GLASS_PLAIN else (0.03, 0.03, 0.031)
    core = (0.30, 0.43, 0.47) if spec.surface.cored else tuple(0.8 * value for value in skin)
    for number, outline in enumerate(outlines_px):
        face = np.asarray(outline)
        step = np.roll(face, -1, 0) - face
        outward = np.column_stack([step[:, 1], -step[:, 0]])
        outward /= np.hypot(*outward.T)[:, None] + 1e-9
        if number or cv2.contourArea(face.astype(np.float32), True) > 0:
            outward *= -1
        outward = -outward
        corner = outward + np.roll(outward, 1, 0)
        corner /= np.hypot(*corner.T)[:, None] + 1e-9
        foot = middle + (face - middle) * shrink + lean + corner * drop * spec.draft
        for band, (near, far) in enumerate(((0.0, 0.16), (0.16, 0.84), (0.84, 1.0))):
            colour = core if band == 1 else skin
            ring = [face + (foot - face) * share for share in (near, far)]
            for k in range(len(face)):
                after = (k + 1) % len(face)
                quad = (ring[0][k], ring[0][after], ring[1][after], ring[1][k])
                shade = (0.62 + 0.5 * float(outward[k] @ toward)) * rng.normal(1, 0.02)
                points = np.round(np.asarray(quad) * 16).astype(np.int32)
                for plane, value in zip(bench, colour, strict=True):
                    cv2.fillPoly(plane, [points], value * max(0.2, shade), shift=4)


def _lay_on(planes: list[Floats], bench: list[Floats], mask: Bytes) -> None:
    """Put the part over the bench, in place."""
    share = cv2.multiply(mask, 1 / 255, dtype=cv2.CV_32F)
    for plane, below in zip(planes, bench, strict=True):
        cv2.subtract(plane, below, dst=plane)
        cv2.multiply(plane, share, dst=plane)
        cv2.add(plane, below, dst=plane)


def _lay_card(planes: list[Floats], picture: Bytes, card_px: Outline, lamp: Floats) -> None:
    """The printed card, lit like its surroundings, with a thin shadow at its rim."""
    rows, columns = picture.shape
    corners = np.array([[0, 0], [columns, 0], [columns, rows], [0, rows]], np.float32) - 0.5
    at = np.asarray(card_px, np.float32)
    margin = 30
    low = np.maximum(np.floor(at.min(0) - margin).astype(int), 0)
    high = np.ceil(at.max(0) + margin).astype(int)
    window = slice(low[1], high[1]), slice(low[0], high[0])
    shape = planes[0][window].shape
    move = cv2.getPerspectiveTransform(corners, at - low.astype(np.float32))
    size = (shape[1], shape[0])
    shown = cv2.warpPerspective(picture, move, size, flags=cv2.INTER_AREA | cv2.INTER_LINEAR)
    cover = cv2.warpPerspective(np.full_like(picture, 255), move, size)
    shown, cover = shown.astype(np.float32) / 255, cover.astype(np.float32) / 255
    shade = np.roll(cv2.GaussianBlur(cover, (0, 0), 5), (4, 3), (0, 1))
    middle = at.mean(0) / STEP_PX + 1
    row, column = (int(np.clip(middle[i], 0, lamp.shape[1 - i] - 1)) for i in (1, 0))
    paper = 0.62 * min(1.3, float(lamp[row, column]))
    for plane, tint in zip(planes, (0.94, 1.0, 1.0), strict=True):
        part = plane[window]
        part *= 1 - 0.45 * shade
        part += cover * (shown * paper * tint + 0.005 - part)
