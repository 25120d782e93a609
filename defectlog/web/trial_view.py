"""What a trial's page shows of its panels: their dots, where these lead, a row for each."""

import textwrap
from typing import Any

from flask import url_for

from defectlog.bench.trial_results import MEASURES
from defectlog.bench.trial_verdict import Showing
from defectlog.bench.trial_words import setting_words
from defectlog.bench.trials import Progress
from defectlog.charts.drawing import DESK, PHONE
from defectlog.charts.strips import StripDrawing, draw_strips
from defectlog.records import Trial, TrialRun
from defectlog.units import plural
from defectlog.web.pictures import PointLink


def drawings(trial: Trial, shown: Showing) -> list[tuple[str, StripDrawing]]:
    """Every value by its setting, for the phone and for the desk."""
    write = MEASURES[trial.result].write
    return [
        (name, draw_strips(_strips(trial, shown, letters), sheet=sheet, write=write))
        for name, sheet, letters in (("phone", PHONE, 30), ("desk", DESK, 80))
    ]


def _strips(trial: Trial, shown: Showing, letters: int) -> list[tuple[str, list[float]]]:
    """The values by setting. A whole lay-up would run off the sheet: it is cut, and numbered."""
    names = [setting_words(trial, place) for place in range(len(trial.settings))]
    if max(map(len, names)) > letters:
        names = [
            f"{place}. {textwrap.shorten(name, letters, placeholder=' …')}"
            for place, name in enumerate(names, 1)
        ]
    return [
        (f"{name}: {plural(len(group), 'panel')}", [panel.value for panel in group])
        for name, group in zip(names, shown.groups, strict=True)
    ]


def points(trial: Trial, shown: Showing) -> list[list[PointLink]]:
    """Where each dot leads, in the order of the drawing."""
    measure = MEASURES[trial.result]
    return [
        [
            PointLink(
                url_for("builds.show", number=one.build),
                f"Panel {one.panel}, build {one.build}, {setting_words(trial, setting)}: "
                f"{measure.write(one.value)}",
            )
            for one in group
        ]
        for setting, group in enumerate(shown.groups)
    ]


def run_row(trial: Trial, run: TrialRun, come: Progress, seen: bool) -> dict[str, Any]:
    """One line of the order sheet; its value only where it may be ``seen``."""
    value = come.values.get(run.build_id or 0)
    if run.is_lost:
        state = f"lost: {run.lost_reason}"
    elif value is not None:
        state = MEASURES[trial.result].write(value) if seen else "in"
    else:
        state = "in work" if run.build_id else "to make"
    return {
        "number": run.number,
        "block": run.block,
        "setting": setting_words(trial, run.setting),
        "build": run.build_id,
        "is_lost": run.is_lost,
        "state": state,
    }
