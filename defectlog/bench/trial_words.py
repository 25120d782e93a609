"""What a trial showed, in sentences with their interval, or what it could have shown."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from defectlog.bench.trial_plan import POWER, shared_significance
from defectlog.bench.trial_results import MEASURES
from defectlog.bench.trials import Progress
from defectlog.charts import compare, mean_interval
from defectlog.charts.plan import pooled_spread, smallest_shown
from defectlog.facts import FACTS, fact_words
from defectlog.records import Build, Trial, TrialResult
from defectlog.units import figure, percent, plural


@dataclass(frozen=True, slots=True)
class Contrast:
    """One setting less the first, in the unit of the result.

    ``number`` and ``number_first`` are the panels behind each mean, or the days that had both.
    ``low`` and ``high`` share 5 % of false alarms with the other contrasts of the trial.
    ``p_value`` is that of the permutation test; None within days. ``could_show`` is the
    difference that so many panels of this spread would have shown with 80 % power; None
    without any spread.
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

    @property
    def is_shown(self) -> bool:
        """Whether the interval leaves out 0; without any width chance has to be ruled out too."""
        clear = self.low > 0 or self.high < 0
        return clear and (self.high > self.low or (self.p_value or 0.0) <= 0.05)


def contrasts(trial: Trial, values: Mapping[int, float]) -> tuple[Contrast | None, ...]:
    """Each further setting against the first, from the values by number of the build.

    None where a setting has too few panels left: two of each, or two days that have both.
    """
    alpha = shared_significance(len(trial.settings))
    found = []
    for setting in range(1, len(trial.settings)):
        made = _within_days if trial.by_day else _over_all
        found.append(made(trial, values, setting, alpha))
    return tuple(found)


def panels_of(trial: Trial, values: Mapping[int, float], setting: int) -> dict[int, float]:
    """The values of the panels of one setting that are in and not lost, by panel."""
    return {
        run.number: values[run.build_id]
        for run in trial.runs
        if run.setting == setting and not run.is_lost and run.build_id in values
    }


def _over_all(
    trial: Trial, values: Mapping[int, float], setting: int, alpha: float
) -> Contrast | None:
    own = list(panels_of(trial, values, setting).values())
    first = list(panels_of(trial, values, 0).values())
    if min(len(own), len(first)) < 2:
        return None
    found = compare(own, first, confidence=1 - alpha)
    spread = pooled_spread([own, first]).value
    # Groups of unequal size show what equal ones of their harmonic mean would.
    equal = max(2, math.floor(2 / (1 / len(own) + 1 / len(first))))
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
    differences = [own - first for own, first in pairs]
    ends = mean_interval(differences, confidence=1 - alpha)
    if ends is None:
        return None
    number = len(pairs)
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


def setting_words(trial: Trial, setting: int) -> str:
    """One setting as it is shown: ``light mist``."""
    return fact_words(FACTS[trial.fact], trial.settings[setting])


def with_setting(trial: Trial, setting: int) -> str:
    """The fact and its setting: ``tack adhesive: light mist``."""
    return f"{FACTS[trial.fact].label.lower()}: {setting_words(trial, setting)}"


def panel_words(build: Build) -> str:
    """For the lay-up sheet: ``Panel 3 of trial 1, tack adhesive: light mist.``; else nothing."""
    run = build.trial_run
    if run is None:
        return ""
    return f"Panel {run.number} of trial {run.trial_id}, {with_setting(run.trial, run.setting)}."


def state_words(trial: Trial, come: Progress) -> str:
    """How far a trial is, or what it showed."""
    if trial.verdict is not None:
        return " ".join(trial.verdict["sentences"])
    if trial.stopped_reason:
        return f"Stopped without a verdict: {trial.stopped_reason}"
    words = f"{len(come.values)} of {plural(len(trial.runs), 'panel')} in"
    if come.lost:
        words += f", {come.lost} lost"
    if come.is_complete:
        return f"{words}: ready for the verdict."
    return f"{words}; a panel counts once {MEASURES[trial.result].waits_for}."


def next_words(trial: Trial, come: Progress) -> str:
    """What a running trial asks for next: a panel to make or to finish, or the verdict."""
    run = come.next_run
    if run is not None:
        day = f", day {run.block}" if trial.by_day else ""
        return (
            f"Make panel {run.number} of {len(trial.runs)}{day}, {with_setting(trial, run.setting)}"
        )
    if come.is_complete:
        return "Give the verdict: every panel is in"
    builds = [r.build_id for r in trial.runs if not r.is_lost and r.build_id not in come.values]
    named = f"builds {', '.join(map(str, builds))}" if len(builds) > 1 else f"build {builds[0]}"
    return f"Finish {named}: a panel counts once {MEASURES[trial.result].waits_for}"


def verdict_sentences(trial: Trial, found: Sequence[Contrast | None]) -> list[str]:
    """One sentence for each further setting: what differs, with its interval, and if it matters."""
    said = []
    for setting, contrast in enumerate(found, 1):
        if contrast is None:
            what = "days with both" if trial.by_day else "panels of each"
            said.append(
                f"No verdict on “{setting_words(trial, setting)}” against "
                f"“{setting_words(trial, 0)}”: two {what} are the least that can be compared."
            )
        else:
            said.append(_sentence(trial, contrast))
    return said


def _sentence(trial: Trial, contrast: Contrast) -> str:
    measure = MEASURES[trial.result]
    own, first = setting_words(trial, contrast.setting), setting_words(trial, 0)
    ends = _ends(trial, contrast)
    if contrast.is_shown:
        way = "higher" if contrast.difference > 0 else "lower"
        return (
            f"With “{own}” the {measure.noun} was {measure.write(contrast.mean)}, with “{first}” "
            f"{measure.write(contrast.mean_first)}: {measure.difference(contrast.difference)} "
            f"{way}, {ends}. {_matters(trial, contrast)}"
        )
    words = (
        f"No difference shown: the {measure.noun} was {measure.write(contrast.mean)} with “{own}” "
        f"and {measure.write(contrast.mean_first)} with “{first}”, {ends}"
    )
    if contrast.could_show is not None:
        words += (
            f"; one of {measure.difference(contrast.could_show)} or more would have shown in 4 of "
            "5 such trials"
        )
    return f"{words}.{_too_small(trial, contrast)}"


def _ends(trial: Trial, contrast: Contrast) -> str:
    low, high = contrast.low, contrast.high
    if contrast.is_shown and contrast.difference < 0:
        low, high = -high, -low
    share = percent(1 - shared_significance(len(trial.settings)), 3)
    return f"{share} interval of the difference {MEASURES[trial.result].between(low, high)}"


def _matters(trial: Trial, contrast: Contrast) -> str:
    enough = MEASURES[trial.result].difference(trial.smallest_difference)
    near, far = sorted((abs(contrast.low), abs(contrast.high)))
    if near >= trial.smallest_difference:
        return f"That is more than the {enough} that matter."
    if far < trial.smallest_difference:
        return f"That is less than the {enough} that matter."
    return f"Whether it is as much as the {enough} that matter is not settled."


def _too_small(trial: Trial, contrast: Contrast) -> str:
    if max(abs(contrast.low), abs(contrast.high)) >= trial.smallest_difference:
        return ""
    enough = MEASURES[trial.result].difference(trial.smallest_difference)
    return f" If there is one, it is smaller than the {enough} that matter."


def asides(trial: Trial, found: Sequence[Contrast | None]) -> list[str]:
    """How the verdict was reached, and what weakens it: early looks, lost panels, the method."""
    said = []
    if trial.looks:
        seen = " and ".join(str(look.panels_in) for look in trial.looks)
        said.append(
            f"Somebody looked early, with {seen} of {len(trial.runs)} panels in. Each early look "
            "is one more chance to be fooled: a difference that is not there then shows more "
            "often than in 5 % of trials."
        )
    for run in trial.runs:
        if run.is_lost:
            said.append(
                f"Panel {run.number} ({with_setting(trial, run.setting)}) was lost: "
                f"{run.lost_reason.rstrip('.')}. Where panels are lost because of their setting, "
                "the rest look better than the setting is."
            )
        elif run.build and run.build.known.get(trial.fact) != run.value:
            said.append(
                f"Build {run.build_id} was to have {with_setting(trial, run.setting)}; what is "
                "written down says otherwise. It counts as it was planned."
            )
    said.append(
        "Compared within days: the interval is that of the mean difference of a day (t)."
        if trial.by_day
        else "The interval is Welch’s for two means."
    )
    if len(trial.settings) > 2:
        said.append(
            f"{plural(len(trial.settings) - 1, 'comparison')} with the first setting share the "
            "5 % of false alarms, so each interval is wider than one alone would be."
        )
    for contrast in found:
        if contrast and contrast.p_value is not None and contrast.splits:
            said.append(
                f"Dealing the panels of “{setting_words(trial, contrast.setting)}” and "
                f"“{setting_words(trial, 0)}” out anew ({contrast.splits}) gives as large a "
                f"difference in {percent(contrast.p_value)} of cases{_least(contrast)}."
            )
    return said


def _least(contrast: Contrast) -> str:
    """Said where even the farthest deal of so few panels would not be rare."""
    every = math.comb(contrast.number + contrast.number_first, contrast.number)
    if (contrast.p_value or 0) * every > 2.5 or every > 40:
        return ""
    return ", the least there can be with so few; the interval alone carries the verdict"


def beside(trial: Trial, result: TrialResult, values: Mapping[int, float]) -> list[str]:
    """What the settings cost in mass or working time, told beside the verdict."""
    measure = MEASURES[result]
    said = []
    for setting, contrast in enumerate(contrasts(trial, values), 1):
        if contrast is None:
            continue
        own, first = setting_words(trial, setting), setting_words(trial, 0)
        said.append(
            f"{measure.noun.capitalize()}: {measure.write(contrast.mean)} with “{own}”, "
            f"{measure.write(contrast.mean_first)} with “{first}”; interval of the "
            f"difference {measure.between(contrast.low, contrast.high)}"
            + ("." if contrast.is_shown else ", no difference shown.")
        )
    return said
