"""Which builds, on any page of the trends: the form, and the page when it cannot be read."""

from typing import Any

from flask import render_template, request

from defectlog.bench.build_sets import (
    BuildSet,
    PartChoice,
    part_choices,
    read_numbers,
    set_choices,
)
from defectlog.bench.kept_sets import find_kept, kept_sets
from defectlog.bench.results import RESULTS, Result, find_result
from defectlog.errors import FieldError
from defectlog.web.build_sets import SET_FIELDS, is_set_asked, read_set, set_args
from defectlog.web.records import reading

# With more parts than this they are chosen from the list of the form.
_FEW_PARTS = 6
_OPTIONS = ("result", "surface", "kind")


def wanted_set() -> BuildSet:
    """The set of the address. All parts, if nothing is asked: there more builds carry more."""
    return read_set(request.args) if is_set_asked(request.args) else BuildSet()


def asked_result() -> Result:
    """The result that is looked at.

    Raises
    ------
    NotFoundError
        If there is none of that key.
    """
    return find_result(request.args.get("result", "voids"))


def options(*more: str) -> dict[str, str]:
    """What is looked at, as far as the address says so; ``more`` names what one page has alone."""
    return {name: request.args[name] for name in (*_OPTIONS, *more) if request.args.get(name)}


def set_form(
    wanted: BuildSet, title: str, parts: tuple[PartChoice, ...], *more: str
) -> dict[str, Any]:
    """What a page of a set needs to say which builds and what of them, and to ask for others."""
    sets = kept_sets(reading())
    chosen = read_numbers(wanted.builds) if wanted.builds.strip() else frozenset()
    return {
        "wanted": wanted,
        "sets": [
            (one, set_args(BuildSet(builds=", ".join(map(str, one.builds)), name=one.name)))
            for one in sets
            if one.builds
        ],
        "kept": find_kept(sets, wanted.name, chosen) if chosen else None,
        "title": title,
        "parts": parts if len(parts) <= _FEW_PARTS else (),
        "results": [(one.key, one.title) for one in RESULTS.values()],
        "asked": set_args(wanted),
        "options": options(*more),
        "choices": set_choices(reading()),
        "typed": {name: getattr(wanted, name) for name in SET_FIELDS},
        "errors": {},
    }


def set_page(error: FieldError, action: str, *more: str) -> str:
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
        options=options(*more),
        set_action=action,
    )
