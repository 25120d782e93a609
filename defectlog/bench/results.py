"""What can be judged of a build: voids, findings, mass, resin left over, minutes."""

import math
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from defectlog.bench.build_sets import ChosenBuilds
from defectlog.bench.kinds import find_kind, names_of
from defectlog.bench.surface_voids import (
    Surface,
    SurfaceVoids,
    choose_surface,
    voids_by_surface,
)
from defectlog.charts import Turn
from defectlog.errors import NotFoundError
from defectlog.records import Build, BuildFact, Finding, FixDone, Photo
from defectlog.units import MINUS, NBSP, THIN, figure

MM2_IN_DM2 = 10_000.0


@dataclass(frozen=True, slots=True)
class Result:
    """One thing to judge builds by.

    ``rests_on`` says what has to be known of a build, ``unit`` is written behind the figure,
    ``change_unit`` behind a difference, ``factor`` turns the kept value into that unit.
    ``per_area`` and ``is_count`` tell counts, which need another chart. ``has_floor`` is False
    where a value may be below 0. ``of_surface`` results are told for one surface at one stage.
    ``facts`` are those it is made of: they explain nothing. ``is_several``: its title is a plural.
    ``begin`` says how a build comes by a value.
    """

    key: str
    title: str
    rests_on: str
    unit: str
    change_unit: str = ""
    factor: float = 1.0
    digits: int = 3
    is_count: bool = False
    per_area: bool = False
    has_floor: bool = True
    of_surface: bool = False
    facts: tuple[str, ...] = ()
    is_several: bool = False
    begin: str = ""

    @property
    def turn(self) -> Turn | None:
        """The scale that intervals of its means are worked out on; None: chosen by the values."""
        if self.is_count:
            return Turn.ROOT
        return None if self.has_floor else Turn.NONE

    def write(self, value: float) -> str:
        """A value with its unit: ``0.42 %``; what was measured keeps its zeros, ``2.0 %``."""
        shown = self.factor * value
        digits = self.digits
        if (self.of_surface or self.key == "mass") and shown:
            # Once more, for rounding may have reached the next power of ten.
            shown = round(shown, _places(shown, digits))
            return self._with_unit(_fixed(shown, max(0, _places(shown, digits))), self.unit)
        return self._with_unit(figure(shown, digits), self.unit)

    def write_change(self, change: float) -> str:
        """A difference with its unit: ``−1.0 points``; what was measured keeps its zeros."""
        shown = self.factor * change
        if not self.change_unit or not shown:
            return self._with_unit(figure(shown, self.digits), self.change_unit or self.unit)
        shown = round(shown, _places(shown, self.digits))
        return self._with_unit(_fixed(shown, max(0, _places(shown, self.digits))), self.change_unit)

    def write_range(self, low: float, high: float, *, change: bool = False) -> str:
        """An interval of values, or of a difference, both ends as fine: ``0.9 to 2.0 points``."""
        low, high = self.factor * low, self.factor * high
        nearer, farther = sorted((abs(low), abs(high)))
        places = _places(farther, self.digits)
        # In two digits a narrow interval across a power of ten would lose its width to rounding.
        if self.digits < 3 and _places(nearer, 2) > places < _places(high - low, 2):
            places += 1
        places = max(0, places)
        unit = (self.change_unit if change else "") or self.unit
        return self._with_unit(f"{_fixed(low, places)} to {_fixed(high, places)}", unit)

    def write_with_spread(self, one: "BuildValue") -> str:
        """What one build came to, with its spread: ``3.4 % (spread 3.1 to 3.8 %)``."""
        if one.low is None or one.high is None:
            return self.write(one.value)
        return f"{self.write(one.value)} (spread {self.write_range(one.low, one.high)})"

    def write_tick(self, value: float) -> str:
        """A figure for the axis: per cent say so, other units stand in its title."""
        return figure(self.factor * value, 4) + (f"{NBSP}%" if self.unit == "%" else "")

    @staticmethod
    def _with_unit(words: str, unit: str) -> str:
        return f"{words}{NBSP if unit else ''}{unit}"


def _places(value: float, digits: int) -> int:
    return digits - 1 - math.floor(math.log10(abs(value))) if value else 0


def _fixed(value: float, places: int) -> str:
    words = f"{value:{',' if abs(value) >= 10_000 else ''}.{places}f}"
    if not words.strip("-0."):
        words = words.lstrip("-")
    return words.replace("-", MINUS).replace(",", THIN)


_MEASURE = (
    "Open a photo of the demoulded part, draw round the surface to inspect, and press Measure voids"
)
RESULTS: Mapping[str, Result] = {
    result.key: result
    for result in (
        Result(
            key="voids",
            title="Void fraction",
            rests_on="a void measurement",
            unit="%",
            change_unit="points",
            factor=100,
            digits=2,
            of_surface=True,
            begin=f"{_MEASURE}.",
        ),
        Result(
            key="pinholes",
            title="Pinholes per area",
            rests_on="a void measurement with a scale",
            unit="per dm²",
            digits=2,
            is_count=True,
            per_area=True,
            of_surface=True,
            is_several=True,
            begin=f"{_MEASURE}; the scale card has to lie on the part.",
        ),
        Result(
            key="largest",
            title="Largest void",
            rests_on="a void measurement with a scale",
            unit="mm",
            digits=2,
            of_surface=True,
            begin=f"{_MEASURE}; the scale card has to lie on the part.",
        ),
        Result(
            key="findings",
            title="Findings per build",
            rests_on="a photo",
            unit="",
            digits=2,
            is_count=True,
            is_several=True,
            begin="Photograph the part: a photo without a mark says that somebody looked.",
        ),
        Result(
            key="mass",
            title="Mass against target",
            rests_on="a mass and a target for it",
            unit="%",
            change_unit="points",
            factor=100,
            digits=2,
            has_floor=False,
            facts=("mass_g",),
            begin="Weigh the part and write it into the build; the target belongs to the part.",
        ),
        Result(
            key="resin-left",
            title="Resin left over",
            rests_on="resin left over",
            unit="g",
            facts=("resin_left_g",),
            begin="Weigh what is left in the pot and write it into the build.",
        ),
        Result(
            key="effort",
            title="Working time",
            rests_on="a working time",
            unit="min",
            facts=("effort_min",),
            begin="Write the working time into the build.",
        ),
        Result(
            key="rework",
            title="Rework time",
            rests_on="a photo, and minutes on each of its fixes",
            unit="min",
            begin="Photograph the part, and write the minutes beside every fix.",
        ),
    )
}


@dataclass(frozen=True, slots=True)
class BuildValue:
    """What one build came to; ``value`` is ``count`` over ``size`` where things were counted.

    ``spread`` is how far another piece of the same surface may lie from it, ``low`` and ``high``
    allow for that and for the measuring, where it was measured. ``size`` is what was counted on:
    dm², or 1 for a build. Measured on ``photos``, ``inspected_mm2`` of them in all, None where one
    has no scale. ``from_mm`` is the smallest void that counts, 0 if all do.
    """

    value: float
    spread: float | None = None
    low: float | None = None
    high: float | None = None
    count: int | None = None
    size: float = 1.0
    photos: int = 0
    inspected_mm2: float | None = None
    from_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class ResultValues:
    """The values of a set of builds by number, for those that have one.

    ``title`` names what was judged in full. Of a surface alone: ``surface`` and the ``others``
    that were measured too, the most photos of it that a build has, whether some have no scale.
    """

    result: Result
    title: str
    values: Mapping[int, BuildValue]
    surface: Surface | None = None
    others: tuple[Surface, ...] = ()
    photos_each: int = 0
    is_pooled_by_pixels: bool = False


def find_result(key: str) -> Result:
    """The result of that key.

    Raises
    ------
    NotFoundError
        If there is none.
    """
    if key not in RESULTS:
        raise NotFoundError("result", key)
    return RESULTS[key]


def result_values(
    session: Session, result: Result, chosen: ChosenBuilds, *, surface: str = "", kind: str = ""
) -> ResultValues:
    """Look up what the builds came to.

    Parameters
    ----------
    surface : key of a ``Surface``, optional
        Which one, for voids; the one measured on enough builds if not given.
    kind : optional
        Which findings to count; all of them if not given.

    Raises
    ------
    NotFoundError
        If there is no such kind.
    """
    if result.of_surface:
        return _of_surface(session, result, chosen, surface)
    if result.key == "findings":
        return _findings(session, result, chosen, kind)
    if result.key == "rework":
        return ResultValues(result, result.title, _rework(session, chosen))
    (name,) = result.facts
    rows = session.execute(
        select(BuildFact.build_id, BuildFact.value).where(
            BuildFact.name == name, BuildFact.build_id.in_(chosen.numbers)
        )
    )
    figures = {number: float(value) for number, value in rows if _is_figure(value)}
    if result.key == "mass":
        targets = {one.number: one.target_mass_g for one in chosen.made if one.target_mass_g}
        figures = {n: figures[n] / target - 1 for n, target in targets.items() if n in figures}
    return ResultValues(result, result.title, {n: BuildValue(v) for n, v in figures.items()})


def _of_surface(
    session: Session, result: Result, chosen: ChosenBuilds, wanted: str
) -> ResultValues:
    measured = voids_by_surface(session, Build.id.in_(chosen.numbers))
    surface = choose_surface(measured, wanted)
    if surface is None:
        return ResultValues(result, result.title, {})
    read = {number: _read(result, made) for number, made in measured[surface].items()}
    return ResultValues(
        result,
        f"{result.title}, {surface.words}",
        {number: value for number, value in read.items() if value is not None},
        surface,
        tuple(other for other in measured if other != surface),
        max(made.photos for made in measured[surface].values()),
        any(made.inspected_mm2 is None for made in measured[surface].values()),
    )


def _read(result: Result, made: SurfaceVoids) -> BuildValue | None:
    one = BuildValue(
        made.value,
        photos=made.photos,
        inspected_mm2=made.inspected_mm2,
        from_mm=made.from_mm,
    )
    if result.key == "voids":
        return replace(one, spread=made.spread, low=made.low, high=made.high)
    if result.key == "largest":
        return None if made.largest_mm is None else replace(one, value=made.largest_mm)
    if not made.inspected_mm2:
        return None
    area = made.inspected_mm2 / MM2_IN_DM2
    return replace(one, value=made.count / area, count=made.count, size=area)


def _findings(session: Session, result: Result, chosen: ChosenBuilds, kind: str) -> ResultValues:
    title = result.title
    asked = [Finding.build_id.in_(chosen.numbers), Finding.deleted_at.is_(None)]
    if kind:
        find_kind(session, kind)
        title = f"{result.title} ({names_of(session).title(kind).lower()})"
        asked.append(Finding.kind == kind)
    rows = session.execute(
        select(Finding.build_id, func.count()).where(*asked).group_by(Finding.build_id)
    )
    # A build nobody photographed was not looked at: that is a gap and not a good build.
    counts = dict.fromkeys(_looked_at(session, chosen), 0)
    for number, count in rows:
        counts[number] = count
    return ResultValues(
        result, title, {n: BuildValue(float(c), count=c) for n, c in counts.items()}
    )


def _rework(session: Session, chosen: ChosenBuilds) -> dict[int, BuildValue]:
    minutes: dict[int, list[float | None]] = defaultdict(list)
    for number, spent in session.execute(
        select(Finding.build_id, FixDone.minutes)
        .join(Finding, FixDone.finding_id == Finding.id)
        .where(Finding.build_id.in_(chosen.numbers), Finding.deleted_at.is_(None))
    ):
        minutes[number].append(spent)
    totals: dict[int, BuildValue] = {}
    for number in sorted({*_looked_at(session, chosen), *minutes}):
        known = [spent for spent in minutes[number] if spent is not None]
        if len(known) == len(minutes[number]):
            totals[number] = BuildValue(math.fsum(known))
    return totals


def _looked_at(session: Session, chosen: ChosenBuilds) -> list[int]:
    return list(
        session.scalars(
            select(Photo.build_id)
            .where(Photo.build_id.in_(chosen.numbers), Photo.deleted_at.is_(None))
            .distinct()
        )
    )


def _is_figure(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
