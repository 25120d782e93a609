"""Builds with void fractions written straight into the records, for what only the records know."""

from collections.abc import Callable, Iterable
from typing import Any

from sqlalchemy.orm import Session

from defectlog.bench.builds import save_facts, start_build
from defectlog.records import Build, Face, Measurement, Part, Photo, PhotoStage
from tests.builders import NOON, make_photo


def add_measurement(
    session: Session,
    photo: Photo,
    void_fraction: float,
    *,
    mm2: float | None = 1000.0,
    **more: Any,
) -> Measurement:
    """A measurement of so much void, its interval a tenth of it either way."""
    columns: dict[str, Any] = {
        "photo_id": photo.id,
        "at": NOON,
        "version": "test",
        "region": None,
        "settings": {},
        "look": "auto",
        "threshold": None,
        "void_fraction": void_fraction,
        "void_fraction_low": 0.9 * void_fraction,
        "void_fraction_high": 1.1 * void_fraction,
        "count": 0,
        "inspected_px": 100_000,
        "inspected_mm2": mm2,
        "not_inspected_fraction": 0.0,
        "warnings": [],
        "seconds": 0.1,
        "result": {},
        "voids_png": b"",
        "inspected_png": b"",
    }
    made = Measurement(**(columns | more))
    session.add(made)
    session.flush()
    return made


def add_build(
    session: Session,
    part: Part,
    void_fraction: float | None,
    *,
    face: Face = Face.TOOL,
    stage: PhotoStage = PhotoStage.DEMOULD,
    spread: float | None = None,
    **facts: object,
) -> Build:
    """A build with one photo and one measurement on it, or without either.

    ``spread`` is how far other pieces of its surface may lie from it.
    """
    build = start_build(session, part.id, NOON)
    save_facts(session, build.id, facts, NOON)
    if void_fraction is not None:
        photo = make_photo(session, build)
        photo.face, photo.stage = face, stage
        add_measurement(session, photo, void_fraction, **spread_of(void_fraction, spread))
    return build


def spread_of(void_fraction: float, spread: float | None) -> dict[str, float | None]:
    """The ends of a spread as a measurement keeps them; None where it is not known."""
    if spread is None:
        return {"spread_low": None, "spread_high": None}
    return {
        "spread_low": max(0.0, void_fraction - spread),
        "spread_high": void_fraction + spread,
    }


def add_series(
    session: Session, part: Part, fractions: Iterable[float | None], **facts: object
) -> list[Build]:
    """Builds one after the other, all made the same way."""
    return [add_build(session, part, fraction, **facts) for fraction in fractions]


def add_steps(
    session: Session, part: Part, count: int, facts: Callable[[int], dict[str, Any]]
) -> None:
    """Builds each 0.1 points of void above the one before, from 1 %; ``facts`` by their step."""
    for step in range(count):
        add_build(session, part, 0.01 + 0.001 * step, **facts(step))
    session.flush()


def drop_by_step(step: int) -> dict[str, Any]:
    """A drop test that leaks 1 mbar/min more with every step, from none."""
    return {"drop_start_mbar": 10.0, "drop_end_mbar": 10.0 + 5 * step, "drop_minutes": 5.0}
