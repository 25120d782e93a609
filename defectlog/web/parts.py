"""The Workshop: its name, its parts and their limits, and the scale card to print."""

from collections.abc import Mapping
from typing import Any

from flask import Blueprint, Response, current_app, flash, render_template, request, url_for
from flask.typing import ResponseReturnValue
from sqlalchemy.orm import Session

from defectlog.bench.kinds import find_kind, library_of, names_of
from defectlog.bench.parts import (
    DETAILS,
    LimitPlan,
    PartPlan,
    find_part,
    list_parts,
    rename_workshop,
    save_part,
    workshop_name,
)
from defectlog.errors import ChangedMeanwhileError, FieldError, FormError, NotFoundError
from defectlog.records import Limit, Part
from defectlog.report.scale_card import Paper, scale_card_pdf
from defectlog.units import figure, percent, plural, read_number, with_unit
from defectlog.web.once import save_once
from defectlog.web.records import reading
from defectlog.web.words import kind_title

bp = Blueprint("workshop", __name__, url_prefix="/workshop")

# The papers a scale card can be printed on, the usual one first.
PAPERS: dict[Paper, str] = {"a4": "On A4", "letter": "On Letter", "id1": "Bank-card size"}
_TEXTS = ("name", "drawing_ref", "mould", "laminate_plan")

_LIMIT_FIELDS = (
    ("largest_mm", "Largest size"),
    ("per_dm2", "Count"),
    ("area_pct", "Share of the area"),
)


@bp.app_context_processor
def _name_on_the_cover() -> dict[str, Any]:
    # A function, so that the fault page can leave the records alone.
    return {"shop_name": lambda: workshop_name(reading())}


@bp.get("/")
def index() -> ResponseReturnValue:
    """The workshop at a glance."""
    return _index({}, workshop_name(reading()))


def _index(errors: Mapping[str, str], name: str) -> str:
    return render_template(
        "workshop/index.html",
        parts=[(part, part_words(part)) for part in list_parts(reading())],
        papers=PAPERS.items(),
        folder=current_app.config["RECORDS_FOLDER"],
        name=name,
        errors=errors,
    )


@bp.get("/how")
def how() -> ResponseReturnValue:
    """How it goes, from the first part to the first trend."""
    return render_template("workshop/help.html")


@bp.post("/name")
def rename() -> ResponseReturnValue:
    """Call the workshop by another name."""
    name = request.form.get("name", "")

    def save(session: Session) -> str:
        rename_workshop(session, name)
        flash("The name is changed.")
        return url_for(".index")

    try:
        return save_once(save)
    except FormError as error:
        return _index(by_field(error), name), 400


@bp.get("/scale-card/<paper>.pdf")
def scale_card(paper: str) -> Response:
    """The scale card on one size of paper, to print at 100 %."""
    known = next((name for name in PAPERS if name == paper), None)
    if known is None:
        raise NotFoundError("scale card for paper", paper)
    return Response(
        scale_card_pdf(known),
        mimetype="application/pdf",
        headers={"Content-Disposition": f'inline; filename="scale-card-{paper}.pdf"'},
    )


@bp.get("/parts/<int:number>")
def part(number: int) -> ResponseReturnValue:
    """One part: its plan, what is acceptable, its builds."""
    return _part_page(number, request.args, {})


@bp.get("/parts/new")
def new_part() -> ResponseReturnValue:
    """The form of a new part."""
    return render_template("workshop/part_form.html", part=None, typed={}, was={}, errors={})


@bp.post("/parts/new")
def create_part() -> ResponseReturnValue:
    """Name a new part."""
    return _save_part(None)


@bp.get("/parts/<int:number>/edit")
def edit_part(number: int) -> ResponseReturnValue:
    """The form of a part that is there."""
    kept = find_part(reading(), number)
    now = _standing(kept)
    return render_template("workshop/part_form.html", part=kept, typed=now, was=now, errors={})


def _standing(kept: Part) -> dict[str, str]:
    """What a part says of itself, as it stands in the fields of its form."""
    mass = kept.target_mass_g
    return {name: getattr(kept, name) for name in _TEXTS} | {
        "target_mass_g": "" if mass is None else figure(mass, 12)
    }


@bp.post("/parts/<int:number>/edit")
def change_part(number: int) -> ResponseReturnValue:
    """Change a part."""
    return _save_part(number)


def _save_part(number: int | None) -> ResponseReturnValue:
    def save(session: Session) -> str:
        seen = _typed_plan("was.") if "was.name" in request.form else None
        saved = save_part(session, _typed_plan(), number, seen=seen)
        flash(f"{saved.name} is saved.")
        return url_for(".part", number=saved.id)

    try:
        return save_once(save)
    except (FieldError, FormError) as error:
        overtaken = isinstance(error, ChangedMeanwhileError)
        return _part_form_again(number, by_field(error), overtaken), 409 if overtaken else 400


def _typed_plan(prefix: str = "") -> PartPlan:
    return PartPlan(
        **{name: request.form.get(prefix + name, "") for name in _TEXTS},
        target_mass_g=_number(f"{prefix}target_mass_g", "Target mass"),
    )


def _part_form_again(number: int | None, errors: Mapping[str, str], overtaken: bool) -> str:
    """The form as it was typed; where nobody typed, with what the part says by now.

    With ``overtaken`` the faults tell of details saved meanwhile: they have been read then, and
    the next save may replace them.
    """
    kept = None if number is None else find_part(reading(), number)
    now = _standing(kept) if kept else {}
    typed, was = {}, {}
    for name in DETAILS:
        typed[name] = request.form.get(name, "")
        was[name] = request.form.get(f"was.{name}", now.get(name, ""))
        untouched = typed[name].replace("\r\n", "\n") == was[name].replace("\r\n", "\n")
        if kept and untouched:
            typed[name] = was[name] = now[name]
        elif overtaken and name in errors:
            was[name] = now[name]
    return render_template(
        "workshop/part_form.html", part=kept, typed=typed, was=was, errors=errors
    )


@bp.post("/parts/<int:number>/limits")
def set_limit(number: int) -> ResponseReturnValue:
    """Set what a part may have of one kind; a limit already set for it is replaced."""

    def save(session: Session) -> str:
        kind, limit = _read_limit(session, request.form.get("kind", ""))
        save_part(session, _plan_of(find_part(session, number), kind, limit), number)
        flash(f"The limit for {names_of(session).title(kind).lower()} is set.")
        return url_for(".part", number=number, _anchor="limits")

    try:
        return save_once(save)
    except (FieldError, FormError) as error:
        return _part_page(number, request.form, by_field(error)), 400


@bp.post("/parts/<int:number>/limits/<kind>/remove")
def remove_limit(number: int, kind: str) -> ResponseReturnValue:
    """Let a kind be without a limit again."""

    def save(session: Session) -> str:
        save_part(session, _plan_of(find_part(session, number), kind, LimitPlan()), number)
        flash(f"The limit for {names_of(session).title(kind).lower()} is removed.")
        return url_for(".part", number=number, _anchor="limits")

    return save_once(save)


def _part_page(number: int, typed: Mapping[str, str], errors: Mapping[str, str]) -> str:
    shown = find_part(reading(), number)
    return render_template(
        "workshop/part.html",
        part=shown,
        summary=part_words(shown),
        limits=[(limit.kind, kind_title(limit.kind), limit_words(limit)) for limit in shown.limits],
        kinds=[(kind.key, kind.title) for kind in library_of(reading()).kinds],
        typed=typed,
        errors=errors,
    )


def _plan_of(kept: Part, kind: str, limit: LimitPlan) -> PartPlan:
    texts = {name: getattr(kept, name) for name in _TEXTS}
    return PartPlan(**texts, target_mass_g=kept.target_mass_g, limits={kind: limit})


def _read_limit(session: Session, kind: str) -> tuple[str, LimitPlan]:
    if not kind:
        raise FieldError("kind", "No kind is chosen", "choose which kind the limit is for")
    find_kind(session, kind)
    faults: list[FieldError] = []
    values = []
    for name, label in _LIMIT_FIELDS:
        try:
            values.append(_number(name, label))
        except FieldError as fault:
            faults.append(fault)
    if faults:
        raise FormError(faults)
    largest, per_dm2, share = values
    limit = LimitPlan(largest, per_dm2, None if share is None else share / 100)
    if not limit.says_anything:
        raise FieldError(
            "largest_mm",
            "The limit says nothing yet",
            "enter a size, a count or a share of the area",
        )
    return kind, limit


def _number(name: str, label: str) -> float | None:
    text = request.form.get(name, "").strip()
    return read_number(text, field=name, label=label) if text else None


def by_field(error: FieldError | FormError) -> dict[str, str]:
    """The faults of a form by the name of their field, for the sentences beside the fields."""
    faults = error.faults if isinstance(error, FormError) else (error,)
    return {_field_name(fault.field): str(fault) for fault in faults}


def _field_name(field: str) -> str:
    # The bench names a limit's field by its kind too: limit-dry-spot-largest_mm.
    if not field.startswith("limit-"):
        return field
    return field.rsplit("-", 1)[-1].replace("area_fraction", "area_pct")


def part_words(shown: Part) -> str:
    """A part in a line: drawing, mould, target mass, number of builds."""
    facts = [
        f"drawing {shown.drawing_ref}" if shown.drawing_ref else "",
        shown.mould,
        f"target mass {with_unit(shown.target_mass_g, 'g', 4)}" if shown.target_mass_g else "",
        plural(len(shown.builds), "build") if shown.builds else "no builds yet",
    ]
    words = " · ".join(filter(None, facts))
    return words[0].upper() + words[1:]


def limit_words(limit: Limit) -> str:
    """What is acceptable of a kind: ``largest 3 mm, 5 per dm², 0.2 % of the area``."""
    allowed = []
    if limit.largest_mm is not None:
        allowed.append(f"largest {with_unit(limit.largest_mm, 'mm')}")
    if limit.per_dm2 is not None:
        allowed.append(with_unit(limit.per_dm2, "per dm²"))
    if limit.area_fraction is not None:
        allowed.append(f"{percent(limit.area_fraction, 3)} of the area")
    return ", ".join(allowed) + " at most"
