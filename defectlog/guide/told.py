"""An entry told without a screen: as lines of text for a terminal, and as JSON."""

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from defectlog.guide.entry import Cause, Caution, Check, FactEffect, Fix, Kind, Source
from defectlog.guide.search import Found

_WIDTH = 96


def found_words(found: Found) -> str:
    """What a search came to, a kind a line, the likeliest first."""
    if not found.kinds:
        return "Nothing in the guide answers to these words. Try one word less."
    lines = [_row_words(kind) for kind in found.kinds]
    return "\n".join([found.in_words, *lines] if found.in_words else lines)


def _row_words(kind: Kind) -> str:
    """One line for a list: key, name, and how it looks."""
    return textwrap.shorten(f"{kind.key:18} {kind.title}: {kind.look}", 118, placeholder=" …")


def row_json(kind: Kind) -> dict[str, Any]:
    """One kind in a list."""
    return {
        "kind": kind.key,
        "code": kind.code,
        "title": kind.title,
        "family": kind.family.key,
        "look": kind.look,
    }


def found_json(found: Found, words: str) -> dict[str, Any]:
    """What a search came to, as ``guide --search … --json`` prints it."""
    return {
        "search": words,
        "read_as": {typed: list(own) for typed, own in found.read_as.items()},
        "left_out": list(found.left_out),
        "kinds": [row_json(kind) for kind in found.kinds],
    }


def kind_words(kind: Kind) -> str:
    """The whole entry as text, in the order of the work; cautions stand before their steps."""
    return "\n".join(_lines(kind))


def _lines(kind: Kind) -> Iterator[str]:
    yield f"{kind.title} ({kind.code}), {kind.family.title}"
    yield from _wrapped(kind.definition, kind.look, kind.feel)
    yield from _section("Tell it apart", [f"{one.title}: {one.tell}" for one in kind.unlike])
    yield from _section("Record", [*kind.photograph, *kind.measure])
    yield from _head("Causes (how common, and what a check takes: expert judgement, unmeasured)")
    for cause in kind.causes:
        yield from _cause(cause)
    for fix in kind.fixes:
        yield from _fix(fix)
    yield from _section("Next build", [prevention.do for prevention in kind.preventions])
    yield from _section("Sources", [source.in_words for source in kind.sources])


def _section(title: str, lines: Sequence[str]) -> Iterator[str]:
    """A heading with its lines; nothing where a shop wrote none down."""
    if lines:
        yield from _head(title)
        yield from _bullets(lines)


def _cause(cause: Cause) -> Iterator[str]:
    yield from _wrapped(f"{cause.title} ({cause.prior}). {cause.why}")
    for effect in cause.facts:
        yield from _bullets([f"{effect.strength_words}: {effect.words}"])
    for check in cause.checks:
        yield from _cautions(check.cautions)
        yield from _bullets([f"check, {check.time_words}: {check.do}"])


def _fix(fix: Fix) -> Iterator[str]:
    yield from _head(f"Fix: {fix.title} ({fix.outcome}; {fix.time})")
    yield from _bullets(f"not when: {line}" for line in fix.not_when)
    yield from _cautions(fix.cautions)
    for number, step in enumerate(fix.steps, 1):
        yield from _wrapped(f"{number}. {step.do}")
    yield from _bullets(f"look again: {line}" for line in fix.reinspect)


def _cautions(cautions: Iterable[Caution]) -> Iterator[str]:
    for caution in cautions:
        yield from _wrapped(f"! {caution.title}: {caution.say}")


def _head(words: str) -> Iterator[str]:
    yield from ("", words)


def _wrapped(*texts: str) -> Iterator[str]:
    for text in texts:
        yield from textwrap.wrap(text, _WIDTH, initial_indent="  ", subsequent_indent="    ")


def _bullets(texts: Iterable[str]) -> Iterator[str]:
    for text in texts:
        yield from textwrap.wrap(text, _WIDTH, initial_indent="  - ", subsequent_indent="    ")


def kind_json(kind: Kind) -> dict[str, Any]:
    """The whole entry, as ``guide KIND --json`` prints it."""
    return row_json(kind) | {
        "concern": kind.concern,
        "definition": kind.definition,
        "feel": kind.feel,
        "words": list(kind.words),
        "photograph": list(kind.photograph),
        "measure": list(kind.measure),
        "look_alikes": [
            {
                "title": other.title,
                "kind": other.kind or None,
                "tell": other.tell,
                "test": other.test.key if other.test else None,
            }
            for other in kind.unlike
        ],
        "causes": [_cause_json(cause) for cause in kind.causes],
        "fixes": [_fix_json(fix) for fix in kind.fixes],
        "preventions": [
            {"prevention": one.key, "do": one.do, "sources": _keys(one.sources)}
            for one in kind.preventions
        ],
        "worth_knowing": [
            {"say": claim.say, "sources": _keys(claim.sources)} for claim in kind.claims
        ],
        "disputes": [
            {"about": d.about, "one": d.one, "other": d.other, "sources": _keys(d.sources)}
            for d in kind.disputes
        ],
        "sources": {source.key: source.in_words for source in kind.sources},
    }


def _cause_json(cause: Cause) -> dict[str, Any]:
    return {
        "cause": cause.key,
        "title": cause.title,
        "why": cause.why,
        "prior": cause.prior,
        "facts": [_effect_json(effect) for effect in cause.facts],
        "checks": [_check_json(check) for check in cause.checks],
        "fixes": [fix.key for fix in cause.fixes],
        "preventions": [prevention.key for prevention in cause.preventions],
        "sources": _keys(cause.sources),
    }


def _effect_json(effect: FactEffect) -> dict[str, Any]:
    return {
        "fact": effect.fact,
        "values": list(effect.values),
        "above": effect.above,
        "below": effect.below,
        "factor": effect.odds,
        "words": effect.words,
    }


def _check_json(check: Check) -> dict[str, Any]:
    return {
        "check": check.key,
        "do": check.do,
        "positive": check.positive,
        "minutes": check.minutes,
        "hit": check.hit,
        "false_alarm": check.false_alarm,
        "cautions": _cautions_json(check.cautions),
    }


def _fix_json(fix: Fix) -> dict[str, Any]:
    return {
        "fix": fix.key,
        "title": fix.title,
        "outcome": fix.outcome,
        "time": fix.time,
        "not_when": list(fix.not_when),
        "cautions": _cautions_json(fix.cautions),
        "steps": [
            {"cautions": [caution.key for caution in step.cautions], "do": step.do}
            for step in fix.steps
        ],
        "look_again": list(fix.reinspect),
        "sources": _keys(fix.sources),
    }


def _cautions_json(cautions: Iterable[Caution]) -> list[dict[str, str]]:
    return [{"caution": c.key, "title": c.title, "say": c.say} for c in cautions]


def _keys(sources: Iterable[Source]) -> list[str]:
    return [source.key for source in sources]
