"""A set of builds in an address: it can be kept as a bookmark and sent on like any page."""

from typing import Any

from werkzeug.datastructures import MultiDict

from defectlog.bench.build_sets import BuildSet
from defectlog.errors import FieldError

SET_FIELDS = ("part", "mould", "process", "material", "builds", "name")
# Numbers ticked on the page come one by one.
TICKED = "tick"
_LARGEST = 2**31 - 1


def is_set_asked(args: MultiDict[str, str]) -> bool:
    """Whether an address says anything of the builds, if only that all are meant."""
    return any(name in args for name in (*SET_FIELDS, TICKED))


def read_set(args: MultiDict[str, str]) -> BuildSet:
    """The set that an address asks for.

    Raises
    ------
    FieldError
        If the part is no number.
    """
    # A null byte is no letter of any name, and PostgreSQL refuses to look for one.
    typed = {name: args.get(name, "").replace("\0", "").strip() for name in SET_FIELDS}
    part = typed.pop("part")
    if part and not (part.isdecimal() and len(part) < 11 and int(part) <= _LARGEST):
        raise FieldError("part", f"Part: “{part[:20]}” is no number", "choose one of the list")
    ticked = args.getlist(TICKED)
    if ticked:
        typed["builds"] = ", ".join(ticked)
    return BuildSet(part=int(part) if part else None, **typed)


def set_args(wanted: BuildSet) -> dict[str, Any]:
    """The same set for ``url_for``."""
    asked = {name: getattr(wanted, name) for name in SET_FIELDS}
    # Even of all parts something is said, for nothing at all is the part with most builds.
    return {"part": ""} | {name: value for name, value in asked.items() if value}
