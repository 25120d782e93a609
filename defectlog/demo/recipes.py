"""The parts of Heron Slip: how each is made, how it looks, and what it may have."""

from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from defectlog.bench.parts import LimitPlan, PartPlan
from defectlog.demo.shapes import (
    BOW_BULKHEAD,
    HATCH_LID,
    LOCKER_DOOR,
    LOCKER_DOOR_HOLE,
    RUDDER_BLADE,
    TEST_PANEL,
)
from defectlog.demo.spec import Outline, Point
from defectlog.demo.weave import Cloth

# What holes and slits of a core made for infusion drink, g for each dm² of it. Invented, but of the
# size that makers complain of.
CUT_CORE_G_DM2 = 3.0

GLASS_G_CM3, CARBON_G_CM3, EPOXY_G_CM3, FOAM_G_CM3 = 2.55, 1.79, 1.15, 0.08


@dataclass(frozen=True, slots=True)
class Recipe:
    """One part. ``plies`` are areal weights in g/m² of one skin, tool side first."""

    key: str
    plan: PartPlan
    outline_mm: Outline
    cloth: Cloth
    pitch_mm: float
    skin_g_m2: tuple[float, ...]
    core_mm: float
    inside_radius_mm: float
    px_per_mm: float
    look_at_mm: Point = (0.0, 0.0)
    card_at_mm: Point = (105.0, 72.0)
    holes_mm: tuple[Outline, ...] = ()
    flange: tuple[Point, Point] | None = None

    @property
    def is_carbon(self) -> bool:
        return self.cloth is Cloth.CARBON_TWILL

    @property
    def area_dm2(self) -> float:
        """Area of one face in dm², holes taken out."""
        return (_area(self.outline_mm) - sum(_area(hole) for hole in self.holes_mm)) / 1e4

    @property
    def fibre_g(self) -> float:
        skins = 2 if self.core_mm else 1
        return skins * sum(self.skin_g_m2) * self.area_dm2 / 100

    @property
    def core_g(self) -> float:
        return self.area_dm2 * self.core_mm / 100 * 1000 * FOAM_G_CM3

    @property
    def laminate_mm(self) -> float:
        """Thickness of the fibre and resin at half fibre by volume, core left out, in mm."""
        density = CARBON_G_CM3 if self.is_carbon else GLASS_G_CM3
        skins = 2 if self.core_mm else 1
        return skins * sum(self.skin_g_m2) / 1000 / density / 0.5

    def resin_in_part_g(self, fibre_fraction: float, *, infused: bool) -> float:
        """Resin between the fibres, in the cut cells of the core and in its holes, in grams."""
        density = CARBON_G_CM3 if self.is_carbon else GLASS_G_CM3
        laminate = self.fibre_g * EPOXY_G_CM3 / density * (1 - fibre_fraction) / fibre_fraction
        faces = 2 * 2.6 * self.area_dm2 if self.core_mm else 0.0
        holes = CUT_CORE_G_DM2 * self.area_dm2 if self.core_mm and infused else 0.0
        return laminate + faces + holes

    def ply_facts(self) -> list[dict[str, Any]]:
        """The plies as the build facts hold them."""
        material = "carbon twill" if self.is_carbon else "woven glass"
        faces = (("tool", self.skin_g_m2), ("bag", self.skin_g_m2[::-1] if self.core_mm else ()))
        return [
            {
                "material": material,
                "areal_weight_g_m2": weight,
                "orientation": "0/90" if number % 2 == 0 else "±45",
                "face": face,
            }
            for face, skin in faces
            for number, weight in enumerate(skin)
        ]


def _area(outline: Outline) -> float:
    return abs(
        sum(
            x * outline[(i + 1) % len(outline)][1] - outline[(i + 1) % len(outline)][0] * y
            for i, (x, y) in enumerate(outline)
        )
        / 2
    )


_LIMITS = {
    "pinholes-tool": LimitPlan(largest_mm=2.5, area_fraction=0.008),
    "pinholes-bag": LimitPlan(area_fraction=0.015),
    "dry-spot": LimitPlan(largest_mm=0.0),
    "peel-tear": LimitPlan(largest_mm=20.0),
    "bridging": LimitPlan(largest_mm=15.0),
    "starved-bag": LimitPlan(largest_mm=60.0),
}


def _plan(name: str, ref: str, mould: str, mass_g: float, laminate: str, **limits: Any) -> PartPlan:
    return PartPlan(
        name=name,
        drawing_ref=ref,
        mould=mould,
        target_mass_g=mass_g,
        laminate_plan=laminate,
        limits=_LIMITS | limits,
    )


RECIPES = MappingProxyType(
    {
        recipe.key: recipe
        for recipe in (
            Recipe(
                "hatch",
                _plan(
                    "Day-hatch lid",
                    "HS-021 C",
                    "female mould, glass, two years old",
                    275.0,
                    "2 × 300 g/m² woven glass, 10 mm PVC foam, 2 × 300 g/m² woven glass. "
                    "Peel ply on the inside, which is painted.",
                ),
                HATCH_LID,
                Cloth.GLASS_PLAIN,
                1.6,
                (300.0, 300.0),
                10.0,
                12.0,
                5.6,
            ),
            Recipe(
                "locker",
                _plan(
                    "Locker door",
                    "HS-034 A",
                    "flat, gel-coated",
                    200.0,
                    "2 × 200 g/m² carbon twill, 8 mm PVC foam, 2 × 200 g/m² carbon twill. "
                    "The tool side is the show face under clear lacquer.",
                    **{"pinholes-tool": LimitPlan(largest_mm=2.5, area_fraction=0.006)},
                ),
                LOCKER_DOOR,
                Cloth.CARBON_TWILL,
                2.2,
                (200.0, 200.0),
                8.0,
                4.0,
                6.0,
                card_at_mm=(-100.0, 70.0),
                holes_mm=(LOCKER_DOOR_HOLE,),
            ),
            Recipe(
                "bulkhead",
                _plan(
                    "Bow bulkhead",
                    "HS-009 B",
                    "female mould with a flange, glass",
                    308.0,
                    "3 × 300 g/m² woven glass, 15 mm PVC foam, 3 × 300 g/m² woven glass. "
                    "The upper edge turns up into a bonding flange.",
                ),
                BOW_BULKHEAD,
                Cloth.GLASS_PLAIN,
                1.6,
                (300.0, 300.0, 300.0),
                15.0,
                4.0,
                5.6,
                card_at_mm=(95.0, -55.0),
                flange=((175.0, -103.0), (-175.0, -103.0)),
            ),
            Recipe(
                "rudder",
                _plan(
                    "Rudder-blade shell",
                    "HS-040 A",
                    "port-half mould, carbon",
                    188.0,
                    "5 × 200 g/m² carbon twill, no core: two shells are bonded round the stock. "
                    "Carries steering loads; a dry or torn ply is never faired over.",
                    **{"peel-tear": LimitPlan(largest_mm=0.0)},
                ),
                RUDDER_BLADE,
                Cloth.CARBON_TWILL,
                2.2,
                (200.0, 200.0, 200.0, 200.0, 200.0),
                0.0,
                9.0,
                5.8,
                look_at_mm=(150.0, 0.0),
                card_at_mm=(60.0, 38.0),
            ),
            Recipe(
                "panel",
                _plan(
                    "Test panel",
                    "HS-900 A",
                    "flat, gel-coated",
                    160.0,
                    "Plies and core of the locker door: made to find something out, then cut up.",
                ),
                TEST_PANEL,
                Cloth.CARBON_TWILL,
                2.2,
                (200.0, 200.0),
                8.0,
                4.0,
                6.0,
                card_at_mm=(-88.0, 62.0),
            ),
        )
    }
)
