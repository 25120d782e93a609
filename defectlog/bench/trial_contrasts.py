"""Each further setting of a trial against its first: the difference and its interval."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from defectlog.bench.results import BuildValue
from defectlog.bench.trial_plan import POWER, shared_significance
from defectlog.bench.trial_results import MEASURES
from defectlog.charts import compare, paired_interval
from defectlog.charts.plan import pooled_spread, smallest_rate_shown, smallest_shown
from defectlog.charts.rate_gap import Counted, rate_gap
from defectlog.records import Trial, TrialResult
from defectlog.units import figure

V = TypeVar("V")


@dataclass(frozen=True, slots=True)
class Contrast:
    """One setting less the first, in the unit of the result.

    ``number`` and ``number_first`` are the panels behind each mean, or the days that had both.
    ``low`` and ``high`` share 5 % of false alarms with the other contrasts of the trial.
    ``p_value`` is that of the permutation test; None within days. ``could_show`` is the
    difference that so many panels of this spread would have shown with 80 % power; None
    without any spread. ``excess`` is, where things were counted, how many times as large the
    variance of the counts is as chance alone would have it.
    """

    setting: int
    mean: float
    mean_first: float
    number: int
    number_first: int
    difference: float
    low: float
    high: float
    p_value: float | None
    splits: str
    could_show: float | None
    excess: float | None = None

    @property
    def is_shown(self) -> bool:
        """Whether the interval leaves out 0; without any width chance has to be ruled out too."""
        clear = self.low > 0 or self.high < 0
        return clear and (self.high > self.low or (self.p_value or 0.0) <= 0.05)


def contrasts(
    trial: Trial, result: TrialResult, values: Mapping[int, BuildValue]
) -> tuple[Contrast | None, ...]:
    """Each further setting against the first, from the values by number of the build.

    None where a setting has too few panels left: two of each, or two days that have both. Days
    are compared by their differences; over all panels counts are compared as rates.
    """
    alpha = shared_significance(len(trial.settings))
    if not trial.by_day and MEASURES[result].is_counted:
        return tuple(
            _of_counts(
                panels_of(trial, values, 0), panels_of(trial, values, setting), setting, alpha
            )
            for setting in range(1, len(trial.settings))
        )
    plain = {number: one.value for number, one in values.items()}
    made = _within_days if trial.by_day else _over_all
    return tuple(made(trial, plain, setting, alpha) for setting in range(1, len(trial.settings)))


def panels_of(trial: Trial, values: Mapping[int, V], setting: int) -> list[V]:
    """The values of the panels of one setting that are in and not lost."""
    return [
        values[run.build_id]
        for run in trial.runs
        if run.setting == setting and not run.is_lost and run.build_id in values
    ]


def _of_counts(
    first: Sequence[BuildValue], own: Sequence[BuildValue], setting: int, alpha: float
) -> Contrast | None:
    if min(len(own), len(first)) < 2:
        return None
    sides = [
        Counted([float(one.count or 0) for one in side], [one.size for one in side])
        for side in (own, first)
    ]
    found = rate_gap(*sides, confidence=1 - alpha)
    size = math.fsum(one.size for one in (*own, *first)) / (len(own) + len(first))
    return Contrast(
        setting,
        found.rate_a,
        found.rate_b,
        len(own),
        len(first),
        found.difference,
        found.low,
        found.high,
        found.p_value,
        f"{found.method}, {figure(found.splits, 6)} of them",
        smallest_rate_shown(
            _equal(len(own), len(first)),
            found.rate_b,
            size=size,
            excess=found.excess.value,
            power=POWER,
            significance=alpha,
        ),
        found.excess.value,
    )


def _equal(own: int, first: int) -> int:
    """Groups of unequal size show what equal ones of their harmonic mean would."""
    return max(2, math.floor(2 / (1 / own + 1 / first)))


def _over_all(
    trial: Trial, values: Mapping[int, float], setting: int, alpha: float
) -> Contrast | None:
    own, first = panels_of(trial, values, setting), panels_of(trial, values, 0)
    if min(len(own), len(first)) < 2:
        return None
    found = compare(own, first, confidence=1 - alpha)
    spread = pooled_spread([own, first]).value
    equal = _equal(len(own), len(first))
    return Contrast(
        setting,
        found.mean_a,
        found.mean_b,
        len(own),
        len(first),
        found.difference,
        found.low,
        found.high,
        found.p_value,
        f"{found.method}, {figure(found.splits, 6)} of them",
        smallest_shown(equal, spread, power=POWER, significance=alpha) if spread else None,
    )


def _within_days(
    trial: Trial, values: Mapping[int, float], setting: int, alpha: float
) -> Contrast | None:
    of_day = {
        (run.block, run.setting): values[run.build_id]
        for run in trial.runs
        if not run.is_lost and run.build_id in values
    }
    days = [day for day, which in of_day if which == setting and (day, 0) in of_day]
    pairs = [(of_day[day, setting], of_day[day, 0]) for day in days]
    number = len(pairs)
    if number < 2:
        return None
    differences = [own - first for own, first in pairs]
    ends = paired_interval(*zip(*pairs, strict=True), confidence=1 - alpha)
    spread = pooled_spread([differences]).value / math.sqrt(2)
    return Contrast(
        setting,
        math.fsum(own for own, _ in pairs) / number,
        math.fsum(first for _, first in pairs) / number,
        number,
        number,
        math.fsum(differences) / number,
        ends.low,
        ends.high,
        None if ends.low < ends.high else 1.0,
        "",
        smallest_shown(number, spread, power=POWER, significance=alpha, blocked=True)
        if spread
        else None,
    )
