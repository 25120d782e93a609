"""The sum behind one cause: its prior, the shop's cases, every known fact, the cap, checks done.

Weights are odds against something else. Priors, factors and chances are declared judgement in
the data files; the arithmetic around them is published (see :mod:`defectlog.guide.odds`).
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from math import exp, log
from typing import Any

from defectlog.derived import DERIVED, derive
from defectlog.facts import FACTS, fact_words
from defectlog.guide.entry import Cause, Check, FactEffect, Kind
from defectlog.guide.odds import grouped, posterior_shares
from defectlog.guide.ranked import SOMETHING_ELSE, Reason, TraceLine, factor_words
from defectlog.guide.shared import Shared
from defectlog.units import figure, percent

# Judgement, as are the two numbers of something else in the shared data.
CAP_LOG_ODDS = 4.0  # no weight leaves e^-4 … e^4, so that no run of facts silences the others
PRIOR_CASES = 10.0  # how many of the shop's own cases the guide's priors are worth


@dataclass(frozen=True, slots=True)
class Weighed:
    """One cause on the scales: its weight, what moved it and how it came about."""

    key: str
    prior_share: float
    weight: float
    reasons: tuple[Reason, ...]
    trace: tuple[TraceLine, ...]


@dataclass(frozen=True, slots=True)
class Known:
    """What is known of the build: facts as given, and with the classes that follow from them."""

    given: Mapping[str, Any]
    all: Mapping[str, Any]

    @classmethod
    def of(cls, facts: Mapping[str, Any]) -> "Known":
        given = {name: value for name, value in facts.items() if value is not None}
        return cls(given, derive(given))

    def needs(self, fact: str) -> tuple[str, ...]:
        """The facts a person enters to make this one known."""
        return DERIVED[fact].needs if fact in DERIVED else (fact,)

    def used(self, kind: Kind) -> tuple[str, ...]:
        """Facts as given that the kind's causes ask about, directly or through a class."""
        names = (n for f in kind.facts if f in self.all for n in (f, *self.needs(f)))
        return tuple(dict.fromkeys(name for name in names if name in self.given))

    def unknown(self, kind: Kind) -> tuple[str, ...]:
        """Facts a person could still enter that would speak for or against a cause."""
        names = (n for f in kind.facts if f not in self.all for n in self.needs(f))
        return tuple(dict.fromkeys(name for name in names if name not in self.given))


def prior_shares(kind: Kind, shared: Shared) -> dict[str, float]:
    """Share of each cause before any fact, something else among them; they sum to 1."""
    other = shared.something_else.share
    total = sum(cause.prior_weight for cause in kind.causes)
    if not kind.causes:
        return {SOMETHING_ELSE: 1.0}
    shares = {c.key: (1 - other) * c.prior_weight / total for c in kind.causes}
    return shares | {SOMETHING_ELSE: other}


def weigh(
    kind: Kind,
    known: Known,
    confirmed: Mapping[str, int],
    refuted: Mapping[str, int],
    results: Mapping[str, bool],
    shared: Shared,
    ruled_out: Collection[str] = (),
) -> tuple[Weighed, ...]:
    """Put every cause of a kind, and something else, on the scales.

    Weights without history are the plain 3, 1 and 0.3 of the entry times the factors, so that
    a sum done by hand comes out.
    """
    before = prior_shares(kind, shared)
    after = posterior_shares(before, confirmed, refuted, PRIOR_CASES)
    total = sum(cause.prior_weight for cause in kind.causes)
    unit = total / (1 - before[SOMETHING_ELSE]) if total else 1.0
    done = [
        (check, results[check.key])
        for c in kind.causes
        for check in c.checks
        if check.key in results
    ]
    made = []
    for cause in kind.causes:
        trace = [
            TraceLine(
                f"before any fact: {cause.prior}, {percent(before[cause.key])}",
                before[cause.key] * unit,
            )
        ]
        weight = after[cause.key] * unit
        if confirmed or refuted:
            trace.append(TraceLine(f"the shop's own cases: {percent(after[cause.key])}", weight))
        reasons = _reasons(cause, known, shared)
        weight = _moved(weight, reasons, shared.first_counts, trace)
        weight = _checked(weight, cause, done, trace)
        if cause.key in ruled_out and weight:
            weight = 0.0
            trace.append(TraceLine("ruled out on this part", weight))
        made.append(Weighed(cause.key, before[cause.key], weight, reasons, tuple(trace)))
    other = after[SOMETHING_ELSE] * unit
    words = f"kept for what the entry does not name: {percent(before[SOMETHING_ELSE])}"
    line = TraceLine(words, other)
    made.append(Weighed(SOMETHING_ELSE, before[SOMETHING_ELSE], other, (), (line,)))
    return tuple(made)


def shares_of(weighed: tuple[Weighed, ...], keeps: float) -> dict[str, float]:
    """Weights made into shares; something else never falls below what it keeps."""
    other = next(w.weight for w in weighed if w.key == SOMETHING_ELSE)
    named = sum(w.weight for w in weighed) - other
    other_share = max(other / (named + other), keeps)
    shares = {w.key: (1 - other_share) * w.weight / named if named else 0.0 for w in weighed}
    return shares | {SOMETHING_ELSE: other_share if named else 1.0}


def _reasons(cause: Cause, known: Known, shared: Shared) -> tuple[Reason, ...]:
    """What the known facts say for and against one cause, in the order of the entry."""
    speaking = [e for e in cause.facts if e.fact in known.all and e.speaks(known.all[e.fact])]
    moving = [e for e in speaking if e.odds > 0]
    declared = [log(e.odds) for e in moving]
    counted = grouped(
        [(e.group, value) for e, value in zip(moving, declared, strict=True)],
        shared.rest_counts,
        shared.first_counts,
    )
    factors = {e: exp(part) for e, part in zip(moving, counted, strict=True)}
    return tuple(_reason(e, known, factors.get(e, 0.0)) for e in speaking)


def _reason(effect: FactEffect, known: Known, factor: float) -> Reason:
    value = known.all[effect.fact]
    if effect.fact in DERIVED:
        row = DERIVED[effect.fact]
        label, words = row.label, row.values[value]
    else:
        label, words = FACTS[effect.fact].label, fact_words(FACTS[effect.fact], value)
    sources = tuple(name for name in known.needs(effect.fact) if name in known.given)
    return Reason(effect, label, value, words, factor, sources)


def _moved(
    weight: float, reasons: tuple[Reason, ...], first_counts: float, trace: list[TraceLine]
) -> float:
    """The weight after every fact, held at the cap; 0 where a fact rules the cause out."""
    for reason in reasons:
        if reason.factor == 0:
            trace.append(TraceLine(f"ruled out: {reason.effect.words}", 0.0))
            return 0.0
    score = log(weight)
    for reason in reasons:
        score += log(reason.factor)
        stated = reason.effect.odds
        counted = f"{factor_words(reason.factor)}, of {factor_words(stated)} declared"
        words = f"{reason.effect.words}: {counted}"
        if abs(log(reason.factor)) < first_counts * abs(log(stated)) - 1e-9:
            words += ", for a stronger fact said the same"
        trace.append(TraceLine(words, exp(score)))
    if abs(score) > CAP_LOG_ODDS:
        score = CAP_LOG_ODDS if score > 0 else -CAP_LOG_ODDS
        trace.append(TraceLine(f"held at the cap of {figure(exp(score), 2)}", exp(score)))
    return exp(score)


def _checked(
    weight: float, cause: Cause, done: list[tuple[Check, bool]], trace: list[TraceLine]
) -> float:
    """The weight after the checks done on this part, each by its chances against the rest."""
    for check, positive in done:
        mine = chance(check, cause)
        factor = mine / check.false_alarm if positive else (1 - mine) / (1 - check.false_alarm)
        weight *= factor
        if factor != 1 and weight:
            result = "found" if positive else "not found"
            words = f"{result}: {check.positive}: {factor_words(factor)}"
            trace.append(TraceLine(words, weight))
    return weight


def chance(check: Check, cause: Cause) -> float:
    """Chance of a positive result of a check when this cause is the true one."""
    if check in cause.checks:
        return check.hit
    return dict(check.also).get(cause.key, check.false_alarm)
