"""Which builds, on any page of the trends: the form, and the page when it cannot be read."""

from typing import Any

from flask import render_template, request

from defectlog.bench.build_sets import BuildSet, part_choices, set_choices
from defectlog.errors import FieldError
from defectlog.web.build_sets import SET_FIELDS
from defectlog.web.records import reading

# With more parts than this they are chosen from the list of the form.
FEW_PARTS = 6
_OPTIONS = ("result", "surface", "kind")


def options() -> dict[str, str]:
    """What is looked at, as far as the address says so."""
    return {name: request.args[name] for name in _OPTIONS if request.args.get(name)}


def set_form(wanted: BuildSet) -> dict[str, Any]:
    """What the form of a set needs, filled in as it is asked for now."""
    return {
        "choices": set_choices(reading()),
        "typed": {name: getattr(wanted, name) for name in SET_FIELDS},
        "errors": {},
    }


def set_page(error: FieldError, action: str) -> str:
    """The set cannot be read: what was typed, what is wrong with it, and the form to ``action``.

    A fault of another field is none of this page and goes on its way.

    Raises
    ------
    FieldError
    """
    if error.field not in SET_FIELDS:
        raise error
    session = reading()
    return render_template(
        "trends/which.html",
        parts=part_choices(session),
        choices=set_choices(session),
        typed={name: request.args.get(name, "") for name in SET_FIELDS},
        errors={error.field: str(error)},
        options=options(),
        set_action=action,
    )
