"""All the photo room shows of one photo, as plain values; addresses are added by the web face."""

from collections.abc import Mapping
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from defectlog.bench.bench_in_view import shows_bench
from defectlog.bench.kinds import library_of
from defectlog.bench.limits import verdict
from defectlog.bench.measured_again import differs_words, other_scale_words
from defectlog.bench.print_check import print_pct_words
from defectlog.bench.shape_words import shape_words, size_rows
from defectlog.bench.sizes import extent_of, extent_words
from defectlog.guide.entry import Kind
from defectlog.guide.library import Library
from defectlog.measure.figures.result import smallest_counted_mm
from defectlog.measure.hand_set import threshold_words
from defectlog.records import Face, Finding, Measurement, Photo, PhotoScale
from defectlog.units import figure, measured_percent, percent, percent_range, plural, with_unit


def room_state(session: Session, photo: Photo) -> dict[str, Any]:
    """Photo, scale, kinds, the build's findings, marks and measurements, with their words."""
    library = library_of(session)
    beside = [p.id for p in photo.build.photos]
    here = beside.index(photo.id)
    return {
        "photo": {
            "id": photo.id,
            "build_id": photo.build_id,
            "part": photo.build.part.name,
            "name": photo.name,
            "face": photo.face.value,
            "stage": photo.stage.value,
            "note": photo.note,
            "width_px": photo.width_px,
            "height_px": photo.height_px,
            "previous_id": beside[here - 1] if here else None,
            "next_id": beside[here + 1] if here + 1 < len(beside) else None,
        },
        "scale": _scale(photo.scale),
        "kinds": _kinds(session, library, photo.face),
        "findings": [_finding(finding, library) for finding in photo.build.findings],
        "marks": [
            {
                "id": mark.id,
                "finding_id": mark.finding_id,
                **_kind(mark.finding.kind, library),
                "shape": mark.shape.value,
                "points": mark.points,
                "size_words": extent_words(extent_of(mark)),
            }
            for mark in photo.marks
        ],
        "measurements": [
            measurement_words(row, latest=photo.measurement) for row in photo.measurements
        ],
    }


def scale_words(scale: PhotoScale | None) -> str:
    """``12.4 px/mm from the card, ±0.6 %, tilt 4°``, or that there is none."""
    if scale is None or scale.px_per_mm is None:
        return "No scale: sizes are in pixels"
    source = {"card": "from the card", "points": "from two points", "given": "as given"}
    words = f"{with_unit(scale.px_per_mm, 'px/mm')} {source[scale.source]}"
    if scale.uncertainty_pct is not None:
        words += f", ±{with_unit(scale.uncertainty_pct, '%', 2)}"
    if scale.tilt_deg is not None:
        words += f", tilt {figure(round(scale.tilt_deg))}°"
    if scale.print_pct is not None:
        words += f", print checked: {print_pct_words(scale.print_pct)}"
    return words


def measurement_words(row: Measurement, *, latest: Measurement | None = None) -> dict[str, Any]:
    """One measurement as the result panel shows it, every figure with its unit.

    Beside an earlier one stands how it differs from the ``latest`` of its photo.
    """
    if row.inspected_mm2:
        inspected = f"{with_unit(row.inspected_mm2 / 100, 'cm²')} inspected"
    else:
        inspected = f"{with_unit(row.inspected_px / 1e6, 'megapixels', 2)} inspected, no scale"
    if row.not_inspected_fraction >= 0.0005:
        inspected += (
            f"; {percent(row.not_inspected_fraction)} of the {'region' if row.region else 'photo'} "
            "could not be judged"
        )
    spread = None
    # Without voids all fields are alike: "0 to 0 %" would promise that the next piece has none.
    if row.spread_low is not None and row.spread_high:
        spread = (
            "Another piece of the same surface might show "
            f"{percent_range(row.spread_low, row.spread_high)} (field to field, 95 %)"
        )
    least = smallest_counted_mm(row.settings, has_scale=bool(row.inspected_mm2))
    return {
        "id": row.id,
        "at": row.at.isoformat(),
        "void_pct_words": measured_percent(row.void_fraction),
        "interval_words": f"{percent_range(row.void_fraction_low, row.void_fraction_high)} "
        "(95 % measuring interval)",
        "count": row.count,
        "count_words": plural(row.count, "void"),
        "of_words": None if least is None else f"voids from {with_unit(least, 'mm')}",
        "density_words": None
        if row.density_per_cm2 is None
        # As limits and findings have it; the record and what is exported keep it per cm².
        else with_unit(100 * row.density_per_cm2, "per dm²", 2),
        "largest_words": _largest(row),
        "inspected_words": inspected,
        "shape_words": shape_words(row),
        "sizes": size_rows(row),
        "scale_doubt_words": _scale_doubt(row.scale),
        "spread_words": spread,
        "warnings": [*row.warnings, *filter(None, [other_scale_words(row)])],
        "shows_bench": shows_bench(row.region, row.warnings),
        "region": row.region,
        "leave_out": row.settings.get("leave_out", []),
        "void_fraction": row.void_fraction,
        "threshold": row.settings.get("threshold"),
        "look_asked": row.settings.get("look"),
        "smallest_mm": row.settings.get("smallest_mm"),
        "look": row.look,
        "version": row.version,
        "settings_words": settings_words(row.settings, found=row.look),
        "differs_words": None if latest is None or latest is row else differs_words(row, latest),
        "has_hatching": row.not_inspected_fraction > 0,
    }


def settings_words(settings: Mapping[str, Any], *, found: str | None = None) -> str:
    """How a measurement was made: look, smallest void, how finely the light was evened out.

    ``found`` is the side voids were found on; a threshold set by hand is read by it.
    """
    look = settings.get("look")
    by_itself = "dark and bright" if settings.get("also") else "dark or bright"
    words = [
        {"dark": "voids darker than the surface", "bright": "voids brighter than the surface"}.get(
            str(look), f"{by_itself} found by itself"
        )
    ]
    if settings.get("threshold"):
        side = found or str(look)
        words.append(f"threshold set by hand, {threshold_words(settings['threshold'], side)}")
    if settings.get("leave_out"):
        words.append(f"{plural(len(settings['leave_out']), 'area')} left out")
    if settings.get("smallest_mm"):
        words.append(f"voids from {with_unit(settings['smallest_mm'], 'mm')}")
    if settings.get("smallest_px"):
        words.append(f"none under {with_unit(settings['smallest_px'], 'px')} across")
    if settings.get("light_mm"):
        words.append(f"light evened out over {with_unit(settings['light_mm'], 'mm')}")
    if settings.get("near_mm"):
        words.append(f"compared with what is near, over {with_unit(settings['near_mm'], 'mm')}")
    if settings.get("fainter"):
        words.append("the weave taken out for voids fainter than its tones")
    if settings.get("worked_at", 1) < 1:
        words.append(f"worked at {percent(settings['worked_at'])} of full size")
    return ", ".join(words)


def _scale_doubt(scale: PhotoScale | None) -> str | None:
    """How far the scale leaves figures in mm unsure; areas twice as much as lengths."""
    if scale is None or scale.uncertainty_pct is None:
        return None
    lengths, areas = (with_unit(times * scale.uncertainty_pct, "%", 2) for times in (1, 2))
    return f"By the scale lengths are sure to ±{lengths}, areas and counts per area to ±{areas}"


def _largest(row: Measurement) -> str | None:
    if row.largest_mm is not None:
        return f"largest {with_unit(row.largest_mm, 'mm', 2)}"
    if row.largest_px is not None:
        return f"largest {with_unit(row.largest_px, 'px', 2)}, no scale"
    return None


def _scale(scale: PhotoScale | None) -> dict[str, Any]:
    return {
        "source": scale.source if scale else "none",
        "px_per_mm": scale.px_per_mm if scale else None,
        "uncertainty_pct": scale.uncertainty_pct if scale else None,
        "tilt_deg": scale.tilt_deg if scale else None,
        "homography": scale.homography if scale else None,
        "card_outlines": scale.card_outlines if scale else [],
        "points": scale.points if scale else None,
        "length_mm": scale.length_mm if scale else None,
        "warnings": scale.warnings if scale else [],
        "words": scale_words(scale),
    }


def _kinds(session: Session, library: Library, face: Face) -> list[dict[str, Any]]:
    """Every kind there is: those of the face in view first, then as often as the shop meets them.

    Those of the opposite face come last.
    """
    met = dict(
        session.execute(
            select(Finding.kind, func.count())
            .where(Finding.deleted_at.is_(None))
            .group_by(Finding.kind)
        ).all()
    )
    shelves = {Face.TOOL: "tool-side", Face.BAG: "bag-side"}
    own, other = shelves.get(face), set(shelves.values()) - {shelves.get(face)}

    def order(kind: Kind) -> tuple[int, int]:
        far = 0 if kind.family.key == own else 2 if own and kind.family.key in other else 1
        return far, -met.get(kind.key, 0)

    kinds = sorted(library.kinds, key=order)
    return [{"key": k.key, "title": k.title, "code": k.code, "family": k.family.key} for k in kinds]


def _kind(key: str, library: Library) -> dict[str, Any]:
    kind = library.find(key)
    return {
        "kind": key,
        "title": kind.title if kind else key,
        "code": kind.code if kind else "??",
        "family": kind.family.key if kind else "",
    }


def _finding(finding: Finding, library: Library) -> dict[str, Any]:
    return {
        "id": finding.id,
        **_kind(finding.kind, library),
        "size_words": verdict(finding).words,
        "outcome": finding.outcome.value,
        "is_open": finding.is_open,
    }
