"""The findings on a surface put into figures of the picture as given."""

import math
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from defectlog.measure.arrays.halves import begun
from defectlog.measure.arrays.light import BoolImage
from defectlog.measure.arrays.memory import without_collecting
from defectlog.measure.candidates.found import Found
from defectlog.measure.candidates.hiding_yarns import hidden_share
from defectlog.measure.cloth.surface import Surface
from defectlog.measure.figures.arrangement import lying
from defectlog.measure.figures.counted import centres_of, fields_of_voids
from defectlog.measure.figures.fraction import area_fraction, measuring_interval
from defectlog.measure.figures.result import METHOD_VERSION, Rejected, Void, VoidMeasurement
from defectlog.measure.lengths.scale import Scale
from defectlog.measure.outlines import judging
from defectlog.measure.outlines.judging import Turned
from defectlog.measure.patches.halfway import framed
from defectlog.units import plural

# What measures less is below what a photo can show. Of voids 3 pixels across, whose size is
# unsure by a sixth, nearly all measure more.
SMALLEST_PX = 2.3
# For each part of a void that lies on a dyed yarn there is half as much beside it that is lost.
BY_YARN = 1.5
# A "void" this large at the edge of the region is more likely what lies beside the part.
BENCH_SHARE = 0.01
CUT_BY_EDGE = "is cut by its edge"


def summarise(
    shape: tuple[int, int],
    surface: Surface,
    found: Found,
    *,
    weave_deg: float | None,
    scale: Scale,
    smallest_mm: float | None,
    settings: dict[str, Any],
    outlined: bool,
) -> VoidMeasurement:
    """Put the findings into figures of the picture as given."""
    shrink = surface.shrink
    inspected_px = surface.inspected_px * shrink**2
    kept, small = _kept(found, surface, scale, smallest_mm)
    which = np.flatnonzero(kept)
    centres = centres_of(found.shapes, which, shrink)
    surface_mm2 = _surface_mm2(surface, scale)

    where = begun(lambda: lying(centres, surface, scale, surface_mm2, found.repeats))
    mask = found.drawn(kept)
    spread_over = begun(lambda: area_fraction(mask, surface.inspected))
    counted = fields_of_voids(found.shapes, found.area, which, surface, scale, weave_deg)
    with without_collecting():
        voids = tuple(map(Void._make, zip(*(counted[name] for name in Void._fields), strict=True)))
    (spacing, arrangement), spread = where(), spread_over()
    if surface_mm2 is None:
        fraction = sum(counted["area_px"]) / inspected_px
    else:
        fraction = sum(counted["area_mm2"]) / surface_mm2
    fraction = min(fraction, 1.0)
    low, high = _interval(found, kept, fraction, surface.inspected_px)
    low = max(0.0, low - found.at_rim_px / surface.inspected_px)
    # Specks, weak patches and spots of the other side are not counted, but may well be voids.
    doubtful_px = small.specks_px + found.doubtful_px * shrink**2
    high = min(1.0, high + doubtful_px / inspected_px)
    # Fields count pixels within outlines; pinholes are sized by light, and tilt weighs areas.
    as_measured = fraction / spread.value if spread.value else 1.0
    lost = surface.not_inspected
    diameters_mm = tuple(counted["d_mm"]) if scale.is_known else None
    return VoidMeasurement(
        width_px=shape[1],
        height_px=shape[0],
        px_per_mm=scale.px_per_mm,
        scale_source=scale.source,
        scale_uncertainty_pct=scale.uncertainty_pct,
        inspected_mm2=surface_mm2,
        inspected_px=inspected_px,
        not_inspected_fraction=float(lost),
        void_fraction=fraction,
        void_fraction_low=low,
        void_fraction_high=high,
        count=len(voids),
        density_per_cm2=None if surface_mm2 is None else 100 * len(voids) / surface_mm2,
        voids=voids,
        diameters_mm=diameters_mm,
        diameters_px=tuple(counted["d_px"]),
        largest_mm=max(diameters_mm) if diameters_mm else None,
        clustering=None if spacing is None else spacing.index,
        look=found.look,
        threshold=None if found.threshold is None else 1 - math.exp(-found.threshold),
        settings=settings,
        warnings=scale.warnings
        + _warnings(
            float(lost) - hidden_share(found, surface),
            small,
            _bench_share(found, surface),
            scale,
            smallest_mm,
            least_px=SMALLEST_PX * shrink,
            outlined=outlined,
        ),
        version=METHOD_VERSION,
        seconds=0.0,
        clustering_word=None if spacing is None else spacing.word,
        spread_low=spread.low * as_measured,
        spread_high=min(1.0, spread.high * as_measured),
        rejected=small.rejected,
        arrangement=arrangement,
        weave_deg=weave_deg,
        voids_mask=full_size(mask, shape),
        inspected_mask=full_size(surface.inspected, shape),
    )


def _interval(
    found: Found, kept: BoolImage, fraction: float, inspected_px: int
) -> tuple[float, float]:
    """The measuring interval, but for what is not counted and may well be a void."""
    told = slice(0, len(found.barely))
    barely = float(found.area[told][kept[told] & found.barely].sum())
    return measuring_interval(
        fraction,
        float(found.unsure_px[kept].sum()) / inspected_px,
        each=float(np.linalg.norm(found.area[kept])) / inspected_px,
        swing=found.swing,
        barely=barely / inspected_px,
        faint=_turned_px(found, judging.FAINT, judging.PIT) / inspected_px,
        resin=_turned_px(found, judging.POCKET) / inspected_px,
        as_weak=float(found.area[kept & (found.height <= found.pocket_height)].sum())
        / inspected_px,
        # Voids like these lie on dyed yarn as well, or reach into it, and are not seen.
        hidden=found.hidden
        + found.may_be
        + BY_YARN * fraction * _turned_px(found, judging.WEAVE) / inspected_px,
        noise=_turned_px(found, judging.NOISE) / inspected_px,
        is_bright=found.look == "bright",
    )


def _turned_px(found: Found, *why: str) -> float:
    return sum(float(one.area.sum()) for one in found.turned if one.why in why)


@dataclass(frozen=True, slots=True)
class _LeftOut:
    """What was seen and not counted, and why."""

    specks: int = 0
    specks_px: float = 0.0
    below_smallest: int = 0
    rejected: tuple[Rejected, ...] = ()


def _kept(
    found: Found, surface: Surface, scale: Scale, smallest_mm: float | None
) -> tuple[NDArray[np.bool_], _LeftOut]:
    """Which objects are voids to be counted, and what was left out."""
    shapes, shrink = found.shapes, surface.shrink
    d_worked = 2 * np.sqrt(found.area / math.pi)
    shown = d_worked >= SMALLEST_PX
    wanted = np.ones_like(shown)
    if smallest_mm is not None and scale.is_known:
        x, y = ((place + 0.5) * shrink - 0.5 for place in (shapes.x, shapes.y))
        wanted = d_worked * shrink / scale.px_per_mm_at(x, y) >= smallest_mm
    left_out = _LeftOut(
        specks=int(np.count_nonzero(found.kept & ~shown)),
        specks_px=float(found.area[found.kept & ~shown].sum()) * shrink**2,
        below_smallest=int(np.count_nonzero(found.kept & shown & ~wanted)),
        rejected=_rejected(found, shown, wanted, shrink),
    )
    return found.kept & shown & wanted, left_out


def _rejected(
    found: Found, shown: BoolImage, wanted: BoolImage, shrink: int
) -> tuple[Rejected, ...]:
    """The largest candidates that were not counted, and why."""
    turned = list(found.turned)
    for which, why in (
        (found.kept & ~shown, judging.SPECK),
        (found.kept & shown & ~wanted, judging.BELOW),
    ):
        shapes = found.shapes
        turned.append(Turned(shapes.x[which], shapes.y[which], found.area[which], why))
    x, y, area = (
        np.concatenate([getattr(one, name) for one in turned]) for name in ("x", "y", "area")
    )
    whys = np.repeat(np.arange(len(turned)), [len(one.x) for one in turned])
    largest = np.argsort(-area, kind="stable")[: judging.MOST]
    return tuple(
        Rejected(
            x=float((x[k] + 0.5) * shrink - 0.5),
            y=float((y[k] + 0.5) * shrink - 0.5),
            d_px=2 * math.sqrt(max(float(area[k]), 0.0) / math.pi) * shrink,
            why=turned[whys[k]].why,
        )
        for k in largest
    )


def _surface_mm2(surface: Surface, scale: Scale) -> float | None:
    """Area of the inspected surface, in its own plane."""
    if scale.px_per_mm is None:
        return None
    if scale.homography is None:
        return surface.inspected_px * surface.shrink**2 / scale.px_per_mm**2
    # The scale changes slowly over the picture: cells of it are enough.
    rows, columns = surface.inspected.shape
    size = (max(1, columns // 16), max(1, rows // 16))
    share = cv2.resize(surface.inspected.astype(np.float32), size, interpolation=cv2.INTER_AREA)
    high, wide = rows * surface.shrink / size[1], columns * surface.shrink / size[0]
    y = (np.arange(size[1]) + 0.5) * high - 0.5
    x = (np.arange(size[0]) + 0.5) * wide - 0.5
    per_mm = scale.px_per_mm_at(x[None, :], y[:, None])
    return float((share / per_mm**2).sum() * high * wide)


def _bench_share(found: Found, surface: Surface) -> float:
    """Share of the inspected surface taken up by the largest object cut by its edge.

    Taken for 0 where no object is as large as to be told of.
    """
    if not (found.area[found.kept] > BENCH_SHARE * surface.inspected_px).any():
        return 0.0
    walled = framed(surface.inspected, 1)
    inner = np.ascontiguousarray(
        cv2.erode(walled.view(np.uint8), np.ones((3, 3), np.uint8))[1:-1, 1:-1]
    )
    cut = found.shapes.label[inner.ravel()[found.shapes.at] == 0]
    cut = cut[found.kept[cut]]
    if not len(cut):
        return 0.0
    return float(found.area[cut].max() / surface.inspected_px)


def _warnings(
    glare: float,
    left_out: _LeftOut,
    bench_share: float,
    scale: Scale,
    smallest_mm: float | None,
    *,
    least_px: float,
    outlined: bool,
) -> tuple[str, ...]:
    said = []
    if glare > 0.1:
        said.append(
            f"{100 * glare:.0f} % of the region is glare, or hidden by it, and was not inspected: "
            "move the lamp or yourself and take it again."
        )
    elif glare > 0.01:
        said.append(
            f"{100 * glare:.0f} % of the region is glare, or hidden by it, and was not inspected."
        )
    if bench_share > BENCH_SHARE:
        said.append(
            f"One void takes {100 * bench_share:.0f} % of the region and {CUT_BY_EDGE}: if "
            "that is the bench or another part, "
            + ("draw the region on the surface alone." if outlined else "outline the part.")
        )
    if smallest_mm is not None and scale.is_known and smallest_mm * scale.px_per_mm < least_px:
        said.append(
            f"A void of {smallest_mm:g} mm is only {smallest_mm * scale.px_per_mm:.1f} px wide on "
            f"this photo, too few to be told: go closer until it is {least_px:g} px or more."
        )
    if left_out.specks:
        said.append(
            f"{plural(left_out.specks, 'speck')} under {least_px:g} px across: below what "
            "this photo can show, not counted. Go closer to see whether that is void."
        )
    if left_out.below_smallest:
        said.append(f"{plural(left_out.below_smallest, 'void')} smaller than asked for left out.")
    if smallest_mm is not None and not scale.is_known:
        said.append("Without a scale no void could be left out for being too small.")
    if not scale.is_known:
        said.append("No scale: sizes are in pixels only. Lay the scale card on the surface.")
    return tuple(said)


def full_size(mask: BoolImage, shape: tuple[int, int]) -> BoolImage:
    """A mask of the picture as worked on, for the picture as given."""
    if mask.shape == shape:
        return mask
    stretched = cv2.resize(mask.view(np.uint8), shape[::-1], interpolation=cv2.INTER_NEAREST)
    return stretched.view(np.bool_)
