"""What a trial showed, in sentences with their interval, or what it could have shown."""

import math
from collections.abc import Mapping, Sequence

from defectlog.bench.results import BuildValue
from defectlog.bench.trial_contrasts import Contrast, contrasts
from defectlog.bench.trial_plan import shared_significance
from defectlog.bench.trial_results import MEASURES, measure_on
from defectlog.bench.trials import Progress
from defectlog.facts import FACTS, fact_words
from defectlog.records import Build, Trial, TrialResult
from defectlog.units import figure, percent, plural


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
    return f"{words}; a panel counts once {measure_on(trial.result, trial.surface).waits_for}."


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
    return (
        f"Finish {named}: a panel counts once {measure_on(trial.result, trial.surface).waits_for}"
    )


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
    said.append(_method(trial, found))
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


def _method(trial: Trial, found: Sequence[Contrast | None]) -> str:
    if trial.by_day:
        return (
            "Compared within days: the interval is that of the mean difference of a day (t), wider "
            "where the setting with more of it also spreads more."
        )
    if not MEASURES[trial.result].is_counted:
        return (
            "The interval is by t (Welch), on the logarithms of the means, or on their roots where "
            "a panel came to nearly nothing; where one lies below 0, on the values as they are."
        )
    words = (
        "Counts are compared as rates, all that was counted over all it was counted on. The "
        "interval is joined from the score limits of both rates (Zou and Donner)"
    )
    wider = [contrast.excess for contrast in found if contrast and contrast.excess]
    if not wider or max(wider) <= 1:
        return f"{words}."
    return (
        f"{words}, with t for z; it is wider because alike panels differed {figure(max(wider), 2)} "
        "times as much (variance) as chance alone has counts differ."
    )


def _least(contrast: Contrast) -> str:
    """Said where even the farthest deal of so few panels would not be rare."""
    every = math.comb(contrast.number + contrast.number_first, contrast.number)
    if (contrast.p_value or 0) * every > 2.5 or every > 40:
        return ""
    return ", the least there can be with so few; the interval alone carries the verdict"


def beside(trial: Trial, result: TrialResult, values: Mapping[int, BuildValue]) -> list[str]:
    """What the settings cost in mass or working time, told beside the verdict."""
    measure = MEASURES[result]
    said = []
    for setting, contrast in enumerate(contrasts(trial, result, values), 1):
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
