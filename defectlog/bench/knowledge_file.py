"""The file two shops share: JSON with a version, written in full and read with suspicion.

A file comes from outside. Every word of it is looked at before anything is kept, and what is
not known is refused, so that nothing is taken in by half.
"""

import json
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any, NoReturn, TypeVar

from defectlog.bench.knowledge import (
    FORMAT,
    VERSION,
    Knowledge,
    SharedCause,
    SharedCount,
    SharedFix,
    SharedKind,
    SharedNote,
    Shop,
)
from defectlog.bench.knowledge_rows import KnowledgeFileError, Row
from defectlog.bench.own_causes import LONGEST_TITLE as LONGEST_CAUSE
from defectlog.bench.own_fixes import LONGEST_TIME, MOST_STEPS
from defectlog.bench.own_fixes import LONGEST_TITLE as LONGEST_FIX
from defectlog.bench.own_kinds import LONGEST_TITLE as LONGEST_KIND
from defectlog.errors import DefectlogError
from defectlog.guide.library import shared
from defectlog.guide.schema import OUTCOMES
from defectlog.records import Counted

MOST_BYTES = 8 * 1024 * 1024
MOST_ROWS = 5000  # of each list

T = TypeVar("T")


class KnowledgeTooLargeError(DefectlogError):
    """A file larger than any shop's knowledge."""

    def __init__(self) -> None:
        super().__init__(
            f"The file is over {MOST_BYTES // 1024**2} MiB, more than any shop writes down",
            "choose the file that was saved under Share what the shop knows; nothing was changed",
        )


class NewerKnowledgeError(DefectlogError):
    """A file written by a later version than this one."""

    def __init__(self, version: int) -> None:
        super().__init__(
            f"The file is of version {version}, written by a newer defectlog",
            f"update this one, or ask for a file of version {VERSION}; nothing was changed",
        )


def write_knowledge(knowledge: Knowledge) -> bytes:
    """The file, readable for a person too."""
    told: dict[str, Any] = {
        "format": FORMAT,
        "version": VERSION,
        "exported_at": knowledge.exported_at.isoformat(),
        "shop": _shop_json(knowledge.shop),
        "kinds": [
            {
                "key": kind.key,
                "code": kind.code,
                "title": kind.title,
                "look": kind.look,
                "definition": kind.definition,
                "answers": {question: list(given) for question, given in kind.answers},
                "origin": _shop_json(kind.origin),
            }
            for kind in knowledge.kinds
        ],
        "causes": [
            {
                "kind": cause.kind,
                "key": cause.key,
                "title": cause.title,
                "why": cause.why,
                "check_do": cause.check_do,
                "check_positive": cause.check_positive,
                "check_minutes": cause.check_minutes,
                "prevention": cause.prevention,
                "origin": _shop_json(cause.origin),
            }
            for cause in knowledge.causes
        ],
        "fixes": [
            {
                "kind": fix.kind,
                "key": fix.key,
                "title": fix.title,
                "outcome": fix.outcome,
                "steps": [{"do": do, "cautions": list(held)} for do, held in fix.steps],
                "not_when": fix.not_when,
                "reinspect": fix.reinspect,
                "time": fix.time,
                "origin": _shop_json(fix.origin),
            }
            for fix in knowledge.fixes
        ],
        "notes": [
            {
                "uid": note.uid,
                "kind": note.kind,
                "words": note.words,
                "written_at": note.written_at.isoformat(),
            }
            for note in knowledge.notes
        ],
        "causes_confirmed": [
            {"kind": c.kind, "cause": c.key, "confirmed": c.count, "of": c.cases}
            for c in knowledge.counts
            if c.about is Counted.CAUSE
        ],
        "fixes_held": [
            {"kind": c.kind, "fix": c.key, "held": c.count, "of": c.cases}
            for c in knowledge.counts
            if c.about is Counted.FIX
        ],
    }
    return json.dumps(told, ensure_ascii=False, allow_nan=False, indent=1).encode() + b"\n"


def _shop_json(shop: Shop) -> dict[str, str]:
    return {"uid": shop.uid, "name": shop.name}


def read_knowledge(data: bytes) -> Knowledge:
    """Read a file.

    Raises
    ------
    KnowledgeTooLargeError
        If there are more bytes than are taken.
    NewerKnowledgeError
        If the file says so.
    KnowledgeFileError
        For anything else that is not as this version writes it, saying where.
    """
    if len(data) > MOST_BYTES:
        raise KnowledgeTooLargeError
    top = Row("", _parsed(data))
    if top.take("format") != FORMAT:
        raise KnowledgeFileError("", "it is no file of shared knowledge")
    version = top.whole("version", 1, 10**6)
    if version > VERSION:
        raise NewerKnowledgeError(version)
    made = Knowledge(
        exported_at=top.moment("exported_at"),
        shop=_shop(top.row("shop")),
        kinds=_read(top, "kinds", _kind if version > 1 else _kind_of_1),
        causes=_read(top, "causes", _cause),
        fixes=_read(top, "fixes", _fix) if version > 1 else (),
        notes=_read(top, "notes", _note),
        counts=(
            *_read(top, "causes_confirmed", _confirmed),
            *_read(top, "fixes_held", _held),
        ),
        version=version,
    )
    top.end()
    _once("kinds", "key", (kind.key for kind in made.kinds))
    _once("kinds", "code", (kind.code for kind in made.kinds))
    _once("causes", "key", (cause.key for cause in made.causes))
    _once("fixes", "key", (fix.key for fix in made.fixes))
    _once("notes", "uid", (note.uid for note in made.notes))
    _once("the counts", "key", ((c.about, c.kind, c.key) for c in made.counts))
    _add_up(made.counts)
    return made


def _parsed(data: bytes) -> Any:
    try:
        text = data.decode("utf-8-sig")
        return json.loads(text, parse_constant=_no_constant, object_pairs_hook=_no_doubles)
    except (ValueError, RecursionError) as error:
        # Bytes that are no UTF-8, broken JSON, endless numbers and endless nesting alike.
        raise KnowledgeFileError("", "it is not readable as JSON") from error


def _no_constant(_name: str) -> NoReturn:
    raise ValueError("not a number")


def _no_doubles(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    made = dict(pairs)
    if len(made) < len(pairs):
        raise ValueError("a name is used twice")
    return made


def _read(top: Row, name: str, read: Callable[[Row], T]) -> tuple[T, ...]:
    made = []
    for row in top.rows(name, MOST_ROWS):
        made.append(read(row))
        row.end()
    return tuple(made)


def _shop(row: Row) -> Shop:
    made = Shop(row.uid("uid"), row.line("name", 80))
    row.end()
    return made


def _kind_of_1(row: Row) -> SharedKind:
    """A kind as files of version 1 have it, from before kinds answered to the key."""
    return SharedKind(
        key=row.own_key("key", 40),
        code=row.code("code"),
        title=row.line("title", LONGEST_KIND),
        look=row.text("look"),
        definition=row.text("definition"),
        origin=_shop(row.row("origin")),
    )


def _kind(row: Row) -> SharedKind:
    answers = row.answers("answers")
    return replace(_kind_of_1(row), answers=answers)


def _cause(row: Row) -> SharedCause:
    made = SharedCause(
        kind=row.key("kind", 40),
        key=row.own_key("key", 60),
        title=row.line("title", LONGEST_CAUSE),
        why=row.text("why", least=0),
        check_do=row.text("check_do", least=0),
        check_positive=row.text("check_positive", least=0),
        check_minutes=row.minutes("check_minutes"),
        prevention=row.text("prevention", least=0),
        origin=_shop(row.row("origin")),
    )
    parts = (made.check_do, made.check_positive, made.check_minutes is not None)
    if any(parts) and not all(parts):
        raise row.fault("check_do", "the check is not whole")
    return made


def _fix(row: Row) -> SharedFix:
    steps = []
    for step in row.rows("steps", MOST_STEPS):
        steps.append(_step(step))
    made = SharedFix(
        kind=row.key("kind", 40),
        key=row.own_key("key", 60),
        title=row.line("title", LONGEST_FIX),
        outcome=row.text("outcome"),
        steps=tuple(steps),
        not_when=row.text("not_when"),
        reinspect=row.text("reinspect", least=0),
        time=row.line("time", LONGEST_TIME, least=0),
        origin=_shop(row.row("origin")),
    )
    if made.outcome not in OUTCOMES:
        raise row.fault("outcome", f"it is none of {', '.join(OUTCOMES)}")
    if not made.steps:
        raise row.fault("steps", "there is no step")
    return made


def _step(row: Row) -> tuple[str, tuple[str, ...]]:
    """A step. What it does not choose itself of cautions its words will call for on the page."""
    made = row.text("do"), row.keys("cautions", len(shared().cautions))
    for caution in made[1]:
        if caution not in shared().cautions:
            raise row.fault("cautions", f"this guide has no caution “{caution}”")
    row.end()
    return made


def _note(row: Row) -> SharedNote:
    return SharedNote(
        row.uid("uid"), row.key("kind", 40), row.text("words"), row.moment("written_at")
    )


def _confirmed(row: Row) -> SharedCount:
    cases = row.whole("of", 1, 10**6)
    return SharedCount(
        Counted.CAUSE,
        row.key("kind", 40),
        row.key("cause", 60),
        row.whole("confirmed", 0, cases),
        cases,
    )


def _held(row: Row) -> SharedCount:
    cases = row.whole("of", 1, 10**6)
    fix = row.key("fix", 60, may_be_empty=True)
    return SharedCount(Counted.FIX, row.key("kind", 40), fix, row.whole("held", 0, cases), cases)


def _once(where: str, name: str, keys: Iterable[Any]) -> None:
    counted = Counter(keys)
    if counted and counted.most_common(1)[0][1] > 1:
        raise KnowledgeFileError(where, f"a {name} is used twice")


def _add_up(counts: Iterable[SharedCount]) -> None:
    """A finding counts for one cause, so that the causes of a kind share its cases."""
    cases: dict[str, int] = {}
    left: dict[str, int] = {}
    for count in counts:
        if count.about is Counted.CAUSE:
            of = cases.setdefault(count.kind, count.cases)
            left[count.kind] = left.get(count.kind, of) - count.count
            if of != count.cases or left[count.kind] < 0:
                raise KnowledgeFileError(
                    "causes_confirmed", f"the counts of “{count.kind}” do not add up"
                )
