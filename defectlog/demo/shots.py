"""Which photos were taken of each build, and what is to be seen on each."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import pi

import numpy as np

from defectlog.demo.plot import BuildPlan, Process, Progress, Trouble
from defectlog.demo.recipes import Recipe
from defectlog.demo.spec import (
    Camera,
    Crease,
    Defect,
    LaidCard,
    Lamp,
    PhotoSpec,
    Pinholes,
    Point,
    Side,
    Surface,
)
from defectlog.records import Face, PhotoStage

_CLOSE_PX_PER_MM = 10.5
# What the wavering rim and the spread of sizes add to the mean area of a drawn pit.
_PIT_AREA = 1.007 * float(np.exp(2 * 0.32**2))
# One pit in eight would touch another or lie half outside, and is not drawn.
_LOST_PITS = 1.13
_BENCHES = ("plywood", "plywood", "paint", "mat")


@dataclass(frozen=True, slots=True)
class Shot:
    """One photo of a build: what it is called, when it was taken, what to do with it.

    ``hours`` count from demoulding, for a photo after the repair from when it was looked at.
    ``troubles`` are the places in the build's plan of what is marked on it. A photo after the
    repair marks only the spot, so that the size stays that of the defect.
    """

    name: str
    face: Face
    stage: PhotoStage
    hours: float
    spec: PhotoSpec
    measured: bool = False
    troubles: tuple[int, ...] = ()


def shots_of(plan: BuildPlan, number: int, recipe: Recipe) -> tuple[Shot, ...]:
    """The photos of one build in the order they were taken."""
    if plan.progress is Progress.LAID_UP:
        return ()
    rng = np.random.default_rng(7000 + number)
    return tuple(_shots(plan, number, recipe, rng))


def _shots(
    plan: BuildPlan, number: int, recipe: Recipe, rng: np.random.Generator
) -> Iterator[Shot]:
    sides = {side: _troubles(plan, side) for side in Side}
    stem = f"{recipe.plan.name.lower().replace(' ', '-')}-{number:02d}"
    seed = 16 * number

    pits = _pits(plan, recipe)
    drawn = (*pits, *_drawn(sides[Side.TOOL]))
    tool = _whole(plan, recipe, Side.TOOL, drawn, seed, rng)
    yield Shot(
        f"{stem}-tool.jpg",
        Face.TOOL,
        PhotoStage.DEMOULD,
        0.3,
        tool,
        measured=True,
        troubles=tuple(sides[Side.TOOL]),
    )
    bag = None
    if plan.bag_photo or sides[Side.BAG]:
        drawn = (*_line_marks(plan, recipe), *_drawn(sides[Side.BAG]))
        bag = _whole(plan, recipe, Side.BAG, drawn, seed + 1, rng)
        measured = any(t.kind == "pinholes-bag" for t in sides[Side.BAG].values())
        yield Shot(
            f"{stem}-bag.jpg",
            Face.BAG,
            PhotoStage.PEELED,
            0.7,
            bag,
            measured=measured,
            troubles=tuple(sides[Side.BAG]),
        )
    for index, trouble in enumerate(plan.troubles):
        face, whole = (Face.TOOL, tool) if index in sides[Side.TOOL] else (Face.BAG, bag or tool)
        if trouble.close_up:
            spec = _close(whole, trouble, recipe, seed + 4 + index, rng)
            name = f"{stem}-{trouble.kind}.jpg"
            stage = PhotoStage.DEMOULD if face is Face.TOOL else PhotoStage.PEELED
            yield Shot(name, face, stage, 0.8 + 0.1 * index, spec, troubles=(index,))
        if trouble.after:
            spec = replace(
                whole,
                defects=trouble.after,
                camera=_handheld(whole.camera, rng),
                lamp=_lamp(plan, rng),
                seed=seed + 8 + index,
            )
            name = f"{stem}-{trouble.kind}-repaired.jpg"
            yield Shot(name, face, PhotoStage.REPAIRED, 0.2 * index, spec, troubles=(index,))


def _troubles(plan: BuildPlan, side: Side) -> dict[int, Trouble]:
    return {
        index: trouble
        for index, trouble in enumerate(plan.troubles)
        if trouble.on_tool_side == (side is Side.TOOL)
    }


def _drawn(troubles: dict[int, Trouble]) -> Iterator[Defect]:
    for trouble in troubles.values():
        yield from trouble.drawn


def _pits(plan: BuildPlan, recipe: Recipe) -> tuple[Pinholes, ...]:
    """Pinholes that cover the planned share of the face."""
    median_mm = 0.95 if plan.process is Process.BAGGED else 0.82
    area_mm2 = 1e4 * recipe.area_dm2
    count = _LOST_PITS * plan.void_pct / 100 * area_mm2 / (pi / 4 * median_mm**2 * _PIT_AREA)
    if not plan.fan:
        return (Pinholes(round(count), median_mm),)
    # Where the air came in, from the long edge.
    across = max(y for _, y in recipe.outline_mm)
    middle = recipe.look_at_mm[0] - 60
    fan = Pinholes(round(0.55 * count), median_mm, (middle, -0.62 * across), (260, 0.9 * across))
    return (Pinholes(round(0.45 * count), median_mm), fan)


def _line_marks(plan: BuildPlan, recipe: Recipe) -> tuple[Crease, ...]:
    """The faint double line that the feed spiral leaves under the peel ply."""
    if plan.process is Process.BAGGED or any(t.kind == "pinholes-bag" for t in plan.troubles):
        return ()  # where the bag side is measured, the line lay outside the face
    x = recipe.look_at_mm[0] + 14
    reach = max(y for _, y in recipe.outline_mm)
    return tuple(
        Crease(((x + off, -reach), (x + off + 4, 0), (x + off - 2, reach)), 0.22, 2.2, kind="")
        for off in (0.0, 11.0)
    )


def _whole(
    plan: BuildPlan,
    recipe: Recipe,
    side: Side,
    defects: tuple[Defect, ...],
    seed: int,
    rng: np.random.Generator,
) -> PhotoSpec:
    infused = plan.process is Process.INFUSION
    look_at, card_at = recipe.look_at_mm, recipe.card_at_mm
    wanted = [d.centre_mm[0] for d in defects if getattr(d, "kind", "") and hasattr(d, "centre_mm")]
    if look_at[0] and wanted and wanted[-1] < -40:
        # A part longer than the picture: look at the end where something is wrong.
        look_at, card_at = (-look_at[0], look_at[1]), (-card_at[0], card_at[1])
    camera = Camera(recipe.px_per_mm, look_at)
    return PhotoSpec(
        outline_mm=recipe.outline_mm,
        surface=Surface(
            recipe.cloth,
            side,
            recipe.pitch_mm,
            turn_deg=float(rng.normal(0, 1.5)),
            cored=recipe.core_mm > 0,
            amber=float(np.clip(rng.normal(0.12 if infused else 0.26, 0.05), 0.02, 0.5)),
        ),
        camera=_handheld(camera, rng),
        lamp=_lamp(plan, rng),
        bench=_BENCHES[int(rng.integers(0, len(_BENCHES)))],
        thickness_mm=max(4.0, recipe.core_mm + recipe.laminate_mm),
        holes_mm=recipe.holes_mm,
        radius_mm=recipe.flange if side is Side.BAG else None,
        defects=defects,
        card=LaidCard("id1", card_at, float(rng.normal(0, 9))),
        seed=seed,
        surface_seed=seed,
    )


def _close(
    whole: PhotoSpec, trouble: Trouble, recipe: Recipe, seed: int, rng: np.random.Generator
) -> PhotoSpec:
    """The same surface from nearer, the card laid beside the defect."""
    centre, half = _extent(trouble, whole)
    inward = 1.0 if centre[0] < recipe.look_at_mm[0] else -1.0
    beside = min(half[0], 56.0) + 58.0
    card = (centre[0] + inward * beside, 0.82 * centre[1])
    middle = (centre[0] + inward * 0.45 * beside, 0.93 * centre[1])
    camera = Camera(_CLOSE_PX_PER_MM, middle)
    return replace(
        whole,
        camera=_handheld(camera, rng),
        card=LaidCard("id1", card, float(rng.normal(0, 7))),
        seed=seed,
    )


def _extent(trouble: Trouble, whole: PhotoSpec) -> tuple[Point, Point]:
    """Middle and half size of a trouble, in mm; without one of its own that of the pits' fan."""
    drawn = [d for d in (*whole.defects, *trouble.drawn) if getattr(d, "kind", "") == trouble.kind]
    for defect in reversed(drawn):
        if hasattr(defect, "centre_mm"):
            size = defect.size_mm or (80.0, 60.0)
            return defect.centre_mm, (size[0] / 2, size[1] / 2)
        if hasattr(defect, "start_mm"):
            (x0, y0), (x1, y1) = defect.start_mm, defect.end_mm
            return ((x0 + x1) / 2, (y0 + y1) / 2), (abs(x1 - x0) / 2, abs(y1 - y0) / 2)
    return whole.camera.look_at_mm, (40.0, 30.0)


def _handheld(camera: Camera, rng: np.random.Generator) -> Camera:
    """A phone is never held quite square, nor twice in the same place."""
    x, y = camera.look_at_mm
    return replace(
        camera,
        look_at_mm=(x + float(rng.normal(0, 2.5)), y + float(rng.normal(0, 2.0))),
        px_per_mm=camera.px_per_mm * float(np.clip(rng.normal(1, 0.008), 0.98, 1.02)),
        turn_deg=float(rng.normal(0, 1.6)),
        tilt_x_deg=float(np.clip(rng.normal(0, 2.6), -6, 6)),
        tilt_y_deg=float(np.clip(rng.normal(0, 2.6), -6, 6)),
        blur_px=float(rng.uniform(0.75, 1.05)),
    )


def _lamp(plan: BuildPlan, rng: np.random.Generator) -> Lamp:
    return Lamp(
        from_deg=float(rng.choice((205, 215, 230, 250, 290, 310, 325, 160)))
        + float(rng.normal(0, 4)),
        falloff=float(rng.uniform(0.5, 0.85)),
        warmth=float(rng.uniform(0.1, 0.45)),
        glare=plan.glare,
        glare_at=(0.36, 0.3),
    )
