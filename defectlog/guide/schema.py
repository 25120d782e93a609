"""Reads one entry of the guide, and refuses whatever the guide does not know.

A misspelt word in a data file would silently do nothing, so every word, fact, value, source
and hazard is looked up, and the refusal names the file and the field.
"""

from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Any

from defectlog.derived import DERIVED
from defectlog.facts import FACTS
from defectlog.guide.entry import (
    Cause,
    Check,
    Claim,
    Dispute,
    FactEffect,
    Fix,
    Kind,
    LookAlike,
    Prevention,
    Step,
)
from defectlog.guide.row import Row
from defectlog.guide.shared import Shared, called_for, cautioned, is_fact, read_step

# Strength scale and priors: declared, unmeasured judgement. A sign multiplies the odds of its
# cause; a prior is a weight against the other causes of the kind (3 to 1 to 0.3).
STRENGTHS: Mapping[str, float] = {
    "+++": 5.0,
    "++": 2.5,
    "+": 1.5,
    "-": 1 / 1.5,
    "--": 1 / 2.5,
    "---": 1 / 5.0,
    "x": 0.0,
}
PRIORS: Mapping[str, float] = {"common": 3.0, "occasional": 1.0, "rare": 0.3}
CONCERNS = ("cosmetic", "functional", "structural")
OUTCOMES = ("rework", "repair", "hold")


def read_kind(key: str, table: Mapping[str, Any], shared: Shared) -> Kind:
    """Read one entry.

    Parameters
    ----------
    key : the file's name without its ending, which is the kind's key
    table : what TOML made of the file
    shared : sources, cautions, tests, routines and groups the entry may name

    Raises
    ------
    EntryError
        Naming file and field, for an unknown word, fact, value or source, a cause without a
        check, a claim without a source, or a hazard without its caution.
    """
    row = Row(f"{key}.toml", "", dict(table))
    preventions = {r.text("key"): r for r in row.rows("prevention")}
    fixes = {r.text("key"): r for r in row.rows("fix")}
    made_fixes = {k: _fix(k, r, shared) for k, r in fixes.items()}
    made_preventions = {k: _prevention(k, r, shared) for k, r in preventions.items()}
    kind = Kind(
        key=key,
        title=row.text("title"),
        code=_code(row),
        family=shared.families[row.one_of("family", shared.families)],
        concern=row.one_of("concern", CONCERNS),
        definition=row.text("definition"),
        look=row.text("look"),
        feel=row.text("feel"),
        words=row.texts("words"),
        photograph=row.texts("photograph"),
        measure=row.texts("measure"),
        unlike=tuple(_look_alike(r, shared) for r in row.rows("unlike")),
        causes=tuple(
            _cause(r, shared, made_fixes, made_preventions) for r in row.rows("cause", least=2)
        ),
        fixes=tuple(made_fixes.values()),
        preventions=tuple(made_preventions.values()),
        claims=tuple(_claim(r, shared) for r in row.rows("claim", least=0)),
        disputes=tuple(_dispute(r, shared) for r in row.rows("dispute", least=0)),
    )
    row.end()
    _coherent(Row(f"{key}.toml", "", {}), kind)
    return kind


def _code(row: Row) -> str:
    code = row.text("code")
    if not (len(code) == 2 and code.isascii() and code.isupper()):
        raise row.fault("code", f"“{code}” is not two capital letters")
    return code


def _look_alike(row: Row, shared: Shared) -> LookAlike:
    test = shared.tests[row.one_of("test", shared.tests)] if row.has("test") else None
    made = LookAlike(row.text("title"), row.text("kind", optional=True), row.text("tell"), test)
    row.end()
    return made


def _claim(row: Row, shared: Shared) -> Claim:
    made = Claim(row.text("say"), row.all_of("sources", shared.sources))
    row.end()
    return made


def _dispute(row: Row, shared: Shared) -> Dispute:
    made = Dispute(
        row.text("about"),
        row.text("one"),
        row.text("other"),
        row.all_of("sources", shared.sources),
    )
    row.end()
    return made


def _prevention(key: str, row: Row, shared: Shared) -> Prevention:
    made = Prevention(key, row.text("do"), row.all_of("sources", shared.sources))
    row.end()
    return made


def _fix(key: str, row: Row, shared: Shared) -> Fix:
    reinspect = row.texts("reinspect")
    called = called_for(" ".join(reinspect), shared.cautions.values())
    made = Fix(
        key=key,
        title=row.text("title"),
        outcome=row.one_of("outcome", OUTCOMES),
        steps=tuple(step for r in row.rows("steps") for step in _steps(r, shared)),
        not_when=row.texts("not_when"),
        reinspect=reinspect,
        time=row.text("time"),
        sources=row.all_of("sources", shared.sources),
        again_cautions=tuple(caution for caution, _ in called),
    )
    row.end()
    return made


def _steps(row: Row, shared: Shared) -> tuple[Step, ...]:
    if not row.has("routine"):
        return (read_step(row, shared.cautions),)
    routine = shared.routines[row.one_of("routine", shared.routines)]
    row.end()
    return routine.steps


def _cause(
    row: Row, shared: Shared, fixes: Mapping[str, Fix], preventions: Mapping[str, Prevention]
) -> Cause:
    prior = row.one_of("prior", PRIORS)
    made = Cause(
        key=row.text("key"),
        title=row.text("title"),
        why=row.text("why"),
        prior=prior,
        prior_weight=PRIORS[prior],
        facts=tuple(_effect(r, shared) for r in row.rows("facts")),
        checks=tuple(_check(r, shared) for r in row.rows("check")),
        fixes=row.all_of("fixes", fixes),
        preventions=row.all_of("preventions", preventions),
        sources=row.all_of("sources", shared.sources),
    )
    _speak_once(row, made.facts)
    row.end()
    return made


def _check(row: Row, shared: Shared) -> Check:
    cautions = row.all_of("cautions", shared.cautions, least=0)
    do = row.text("do")
    cautioned(row, "do", do, shared.cautions, cautions)
    hit = row.number("hit", 0, 1)
    false_alarm = row.number("false_alarm", 0, 1)
    if hit <= false_alarm:
        raise row.fault("hit", "a check must hit more often than it raises a false alarm")
    also = Row(row.file, f"{row.where}.also", row.take("also") if row.has("also") else {})
    made = Check(
        key=row.text("key"),
        do=do,
        positive=row.text("positive"),
        minutes=row.number("minutes", 0, 24 * 60),
        hit=hit,
        false_alarm=false_alarm,
        also=tuple((name, also.number(name, 0, 1)) for name in also.names()),
        cautions=cautions,
    )
    row.end()
    return made


def _effect(row: Row, shared: Shared) -> FactEffect:
    fact = row.text("fact")
    if not is_fact(fact):
        raise row.fault("fact", f"“{fact}” is not a build fact")
    strength = row.one_of("strength", STRENGTHS)
    is_number = fact in FACTS and FACTS[fact].kind == "number"
    made = FactEffect(
        fact=fact,
        strength=strength,
        odds=STRENGTHS[strength],
        words=row.text("words"),
        group=shared.group_of(fact),
        values=() if is_number else _values(row, fact),
        above=_bound(row, "above") if is_number else None,
        below=_bound(row, "below") if is_number else None,
    )
    if is_number and made.above is None and made.below is None:
        raise row.fault("fact", f"“{fact}” is a number and needs above or below")
    row.end()
    return made


def _bound(row: Row, name: str) -> float | None:
    return row.number(name, -1e6, 1e6) if row.has(name) else None


def _values(row: Row, fact: str) -> tuple[object, ...]:
    """The values an effect speaks on, each of them one the fact can have."""
    value = row.take("is")
    values = tuple(value) if isinstance(value, list) else (value,)
    if fact in DERIVED:
        allowed: Iterable[object] = DERIVED[fact].values
    elif FACTS[fact].kind == "yes-no":
        allowed = (True, False)
    elif FACTS[fact].kind == "choice":
        allowed = FACTS[fact].choices
    else:
        raise row.fault("fact", f"“{fact}” is not a choice, a class or a number")
    for one in values:
        if not any(type(one) is type(own) and one == own for own in allowed):
            raise row.fault("is", f"“{one}” is not a value of {fact}")
    return values


def _speak_once(row: Row, effects: tuple[FactEffect, ...]) -> None:
    """One value of one fact may speak once for a cause."""
    for i, a in enumerate(effects):
        for b in effects[:i]:
            if a.fact == b.fact and _overlap(a, b):
                raise row.fault("facts", f"{a.fact} speaks twice on the same value")


def _overlap(a: FactEffect, b: FactEffect) -> bool:
    if a.values or b.values:
        return bool(set(a.values) & set(b.values))
    low = max(e.above if e.above is not None else float("-inf") for e in (a, b))
    high = min(e.below if e.below is not None else float("inf") for e in (a, b))
    return low < high


def _coherent(row: Row, kind: Kind) -> None:
    """What only shows when the entry is whole: keys used twice, used by nobody, or unknown."""
    causes = [cause.key for cause in kind.causes]
    checks = [check.key for cause in kind.causes for check in cause.checks]
    for name, keys in (("cause", causes), ("check", checks)):
        for key, count in Counter(keys).items():
            if count > 1:
                raise row.fault(name, f"the key “{key}” is used twice")
    if "something-else" in causes:
        raise row.fault("cause", "something-else is always there and needs no entry")
    for cause in kind.causes:
        for check in cause.checks:
            for other, _ in check.also:
                if other not in causes or other == cause.key:
                    raise row.fault(f"check {check.key}.also", f"“{other}” is no other cause")
    used = {item.key for cause in kind.causes for item in (*cause.fixes, *cause.preventions)}
    for item in (*kind.fixes, *kind.preventions):
        if item.key not in used:
            raise row.fault(item.key, "no cause leads here")
