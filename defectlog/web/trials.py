"""Trials: the list, the plan of a new one, and the page a trial is run from."""

from collections.abc import Callable, Mapping
from datetime import UTC, datetime

from flask import Blueprint, Response, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from sqlalchemy.orm import Session

from defectlog.bench.kinds import names_of
from defectlog.bench.parts import find_part, list_parts
from defectlog.bench.trial_deal import MOST_SETTINGS, TO_VARY, plan_trial
from defectlog.bench.trial_plan import fact_now
from defectlog.bench.trial_results import JUDGED, MEASURES, measure_on
from defectlog.bench.trial_verdict import decide_trial, showing, trial_table
from defectlog.bench.trial_words import setting_words, state_words, with_setting
from defectlog.bench.trials import (
    find_trial,
    list_trials,
    look_early,
    lose_run,
    may_see,
    progress,
    start_run,
    stop_trial,
)
from defectlog.errors import DefectlogError, FieldError, FormError
from defectlog.facts import FACTS, Stage, of_stage
from defectlog.report.chart_picture import STRIPS_KEY, ChartPicture
from defectlog.units import plural
from defectlog.web.once import save_once, say
from defectlog.web.pictures import send_numbers, send_picture, source_line
from defectlog.web.records import reading
from defectlog.web.trial_form import (
    DEFAULT_PANELS,
    Answer,
    Asked,
    first_settings,
    read_answer,
    read_asked,
    setting_name,
)
from defectlog.web.trial_view import drawings, points, run_row


class NotShownError(DefectlogError):
    """The values of a running trial stay out of sight until it is decided or looked at."""

    def __init__(self, number: int) -> None:
        super().__init__(
            f"Nothing of trial {number} may be seen yet",
            "make its panels and give the verdict, or look early on its page",
        )


# What a form carries for itself has no place in an address.
_NOT_SAID = ("csrf_token", "once", "step")
bp = Blueprint("trials", __name__, url_prefix="/trials")


@bp.get("/")
def index() -> ResponseReturnValue:
    """Every trial with how far it is or what it showed."""
    session = reading()
    rows = [(trial, state_words(trial, progress(session, trial))) for trial in list_trials(session)]
    return render_template("trials/index.html", rows=rows, has_parts=bool(list_parts(session)))


@bp.get("/new")
def new() -> ResponseReturnValue:
    """Plan a trial: first the question; with that answered, the settings and the number."""
    session = reading()
    asked, faults = read_asked(session, request.args)
    if asked is None or "change" in request.args:
        return _ask(request.args, faults if request.args and "change" not in request.args else {})
    if setting_name(1) not in request.args:
        typed = first_settings(asked.fact, fact_now(session, asked.part_id, asked.fact.name))
        return _settle(asked, read_answer(session, asked, typed), typed, {})
    answer, typed = read_answer(session, asked, request.args), request.args.to_dict()
    faults = _faults(answer)
    if not typed.get("panels", "").strip() and answer.sizing:
        typed["panels"] = str(answer.sizing.needed or DEFAULT_PANELS)
    return _settle(asked, answer, typed, faults), 400 if faults else 200


@bp.post("/new")
def create() -> ResponseReturnValue:
    """Work out the number of panels, or with that seen keep the trial.

    The number has an address of its own, so that the way back leads there without sending again.
    """
    if request.form.get("step") != "save":
        said = {name: text for name, text in request.form.items() if name not in _NOT_SAID}
        return redirect(url_for(".new", **said), 303)
    session = reading()
    asked, faults = read_asked(session, request.form)
    if asked is None:
        return _ask(request.form, faults), 400
    answer, typed = read_answer(session, asked, request.form), request.form.to_dict()
    faults = _faults(answer)
    plan = answer.plan(asked)
    if faults or plan is None:
        if not faults:
            faults["panels"] = "No number of panels is chosen: make 2 or more of each setting."
        return _settle(asked, answer, typed, faults), 400

    def keep(session: Session) -> str:
        trial = plan_trial(session, plan, at=datetime.now(UTC))
        flash(f"Trial {trial.id} is planned: its {len(trial.runs)} panels have their order.")
        return url_for(".show", number=trial.id)

    try:
        return save_once(keep)
    except FormError as error:
        return _settle(asked, answer, typed, {f.field: str(f) for f in error.faults}), 400


def _faults(answer: Answer) -> dict[str, str]:
    faults = dict(answer.faults)
    if answer.difference is None and "difference" not in faults:
        faults["difference"] = "Nothing says yet what difference matters: give the smallest."
    return faults


def _ask(typed: Mapping[str, str], errors: Mapping[str, str]) -> str:
    session = reading()
    titles = names_of(session).titles
    return render_template(
        "trials/new.html",
        parts=[(part.id, part.name) for part in list_parts(session)],
        facts=[
            (stage.value, [(f.name, f.label) for f in of_stage(stage) if f.name in TO_VARY])
            for stage in Stage
        ],
        results=[(result.value, measure.title) for result, measure in MEASURES.items()],
        surfaces=[(key, surface.words) for key, surface in JUDGED.items()],
        kinds=sorted(titles.items(), key=lambda row: row[1]),
        typed=typed,
        errors=errors,
    )


def _settle(
    asked: Asked, answer: Answer, typed: Mapping[str, str], errors: Mapping[str, str]
) -> str:
    number = 2 if asked.fact.kind == "yes-no" else len(asked.fact.choices) or MOST_SETTINGS
    return render_template(
        "trials/settle.html",
        asked=asked,
        answer=answer,
        part=find_part(reading(), asked.part_id),
        measure=measure_on(asked.result, asked.surface),
        setting_names=[setting_name(place) for place in range(1, min(number, MOST_SETTINGS) + 1)],
        typed=typed,
        errors=errors,
    )


@bp.get("/<int:number>")
def show(number: int) -> ResponseReturnValue:
    """One trial: the next panel to make, the order sheet, and what it showed."""
    return _page(number, {}, {})


def _page(number: int, typed: Mapping[str, str], errors: Mapping[str, str]) -> str:
    session = reading()
    trial = find_trial(session, number)
    come = progress(session, trial)
    shown = showing(session, trial, come)
    seen = may_see(trial, come)
    return render_template(
        "trials/show.html",
        trial=trial,
        come=come,
        shown=shown,
        measure=measure_on(trial.result, trial.surface),
        state=state_words(trial, come),
        settings=[setting_words(trial, place) for place in range(len(trial.settings))],
        fact=FACTS[trial.fact],
        next_words=with_setting(trial, come.next_run.setting) if come.next_run else "",
        drawings=drawings(trial, shown) if shown else (),
        points=points(trial, shown) if shown else (),
        strips_key=STRIPS_KEY,
        runs=[run_row(trial, run, come, seen) for run in trial.runs],
        open_runs=[(run.number, f"Panel {run.number}") for run in trial.runs if not run.is_lost],
        typed=typed,
        errors=errors,
    )


@bp.get("/<int:number>/panels.csv")
def panel_csv(number: int) -> Response:
    """Every panel with its setting, its build and, where it may be seen, what it came to."""
    session = reading()
    trial = find_trial(session, number)
    rows = trial_table(trial, showing(session, trial, progress(session, trial)))
    return send_numbers(rows, f"trial-{number}-panels.csv")


@bp.get("/<int:number>/panels.<any(svg, png):form>")
def panel_picture(number: int, form: str) -> Response:
    """Every panel by its setting, as a picture for a report."""
    session = reading()
    trial = find_trial(session, number)
    shown = showing(session, trial, progress(session, trial))
    if shown is None:
        raise NotShownError(number)
    measure = MEASURES[trial.result]
    said = " ".join(shown.sentences)
    panels = plural(sum(map(len, shown.groups)), "panel")
    picture = ChartPicture(
        title=trial.question,
        sentence=said if trial.decided_at else f"An early look, no verdict: {said}",
        drawing=drawings(trial, shown)[-1][1],
        up=f"Across: {measure.noun} of a panel. Set apart: {FACTS[trial.fact].label.lower()}",
        key=STRIPS_KEY,
        source=source_line(session, f"trial {number} on {trial.part.name}, {panels}"),
    )
    return send_picture(picture, f"trial-{number}-panels", form)


@bp.post("/<int:number>/panels/<int:panel>")
def start(number: int, panel: int) -> ResponseReturnValue:
    """Start the build of a panel, its setting written down."""

    def begin(session: Session) -> str:
        build = start_run(session, number, panel, at=datetime.now(UTC))
        flash(f"Build {build.id} is started as panel {panel} of trial {number}.")
        return url_for("builds.show", number=build.id)

    return save_once(begin)


@bp.post("/<int:number>/lost")
def lost(number: int) -> ResponseReturnValue:
    """Say that a panel is lost, or with no reason that it is not."""
    panel = request.form.get("panel", type=int)
    back = request.form.get("back") == "yes"

    def lose(session: Session) -> None:
        if panel is None:
            raise FormError([FieldError("panel", "No panel is chosen", "choose which one is lost")])
        lose_run(session, number, panel, reason="" if back else request.form.get("reason", ""))
        say(
            f"Panel {panel} counts again." if back else f"Panel {panel} is noted as lost.",
            at="order",
        )

    return _change(number, lose, "order")


@bp.post("/<int:number>/look")
def look(number: int) -> ResponseReturnValue:
    """Look at the values before all are in; that is noted."""

    def take(session: Session) -> None:
        look_early(session, number, at=datetime.now(UTC))
        say("You looked early; the verdict will say so.", at="showed")

    return _change(number, take, "showed")


@bp.post("/<int:number>/verdict")
def verdict(number: int) -> ResponseReturnValue:
    """Give the verdict, once."""

    def give(session: Session) -> None:
        decide_trial(session, number, at=datetime.now(UTC))
        say("The verdict is given and kept.", at="showed")

    return _change(number, give, "showed")


@bp.post("/<int:number>/stop")
def stop(number: int) -> ResponseReturnValue:
    """End the trial without a verdict."""

    def end(session: Session) -> None:
        stop_trial(session, number, reason=request.form.get("stopped", ""))
        flash(f"Trial {number} is stopped.")

    return _change(number, end, "main")


def _change(number: int, change: Callable[[Session], None], anchor: str) -> ResponseReturnValue:
    def save(session: Session) -> str:
        change(session)
        return url_for(".show", number=number, _anchor=anchor)

    try:
        return save_once(save)
    except FormError as error:
        return _page(number, request.form, {f.field: str(f) for f in error.faults}), 400
