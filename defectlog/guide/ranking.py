"""Causes ranked from what is known of a build, and the next best check."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from math import log
from typing import Any

from defectlog.errors import NotFoundError
from defectlog.guide import library
from defectlog.guide.entry import Cause, Check, Kind
from defectlog.guide.odds import information_gain_bits
from defectlog.guide.ranked import (
    NO_CAUSES,
    NOT_SEPARATED,
    NOTHING_TO_RANK,
    SOMETHING_ELSE,
    CheckValue,
    RankedCause,
    Ranking,
)
from defectlog.guide.shared import SomethingElse
from defectlog.guide.weighing import Known, Weighed, chance, shares_of, weigh
from defectlog.units import figure, percent, plural, with_unit

# All judgement.
CLOSE_LOG_ODDS = 0.7  # leading causes nearer than a factor of two are not separated
STRONG_SHARE = 0.40
FAIR_SHARE = 0.15
OWN_CASES = 20  # from so many confirmed cases on, the shop's own cases carry the shares
LEAST_BITS = 0.005  # a check that tells less is not worth naming


@dataclass(frozen=True, slots=True)
class History:
    """What the shop found out in its own earlier cases of one kind: counts by cause key."""

    confirmed: Mapping[str, int] = field(default_factory=dict)
    refuted: Mapping[str, int] = field(default_factory=dict)


def rank(
    kind: Kind | str,
    facts: Mapping[str, Any],
    history: History | Mapping[str, int] | None = None,
    *,
    checked: Mapping[str, bool] | None = None,
    ruled_out: Collection[str] = (),
) -> Ranking:
    """Rank the causes of a kind for a build.

    Parameters
    ----------
    kind : a kind or its key
    facts : what is known of the build, by fact name; ``None`` and missing facts change nothing.
        Classes such as ``drop_class`` are derived here, or may be given.
    history : the shop's confirmed (and refuted) causes of this kind, by cause key. A key the
        entry does not name counts as something else.
    checked : results of checks done on this part, by check key: True for positive
    ruled_out : keys of causes that were ruled out on this part

    Returns
    -------
    Ranking
        Shares that sum to 1 with something else, which has all of it if no cause is named.

    Raises
    ------
    NotFoundError
        If the guide has no such kind, or the kind no such check.

    Notes
    -----
    Weights are odds against something else: w = prior × product of factors. Facts of one group
    are no independent witnesses (:func:`defectlog.guide.odds.grouped`), and the sum is held
    within a cap; even the strongest counts half of what is declared. That half was set on
    simulated shops with known causes (tests/benchmarks/cause_calibration.py): with it the
    leader's share stands 2.1 ± 0.9 points above how often it is the cause if all strengths are
    as declared, 3.5 ± 0.9 if half is true and 5.4 ± 0.9 if none is; naive multiplication stands
    9.3, 11.1 and 13.6 points above, and is worse than the prior alone (Brier 0.750 to 0.730, ours
    0.719) once only half is true. The shop's cases move the priors as a Dirichlet prior would be
    (:func:`defectlog.guide.odds.posterior_shares`). A check done multiplies a weight by its
    chance of that result under the cause over that under something else.
    """
    if isinstance(kind, str):
        kind = library.kind(kind)
    results = _known_checks(kind, checked or {})
    past = history if isinstance(history, History) else History(confirmed=history or {})
    shared = library.shared()
    known = Known.of(facts)

    weighed = weigh(
        kind,
        known,
        _named(kind, past.confirmed),
        _named(kind, past.refuted),
        results,
        shared,
        ruled_out,
    )
    shares = shares_of(weighed, shared.something_else.keeps)
    own = sum(past.confirmed.values())
    causes = [_ranked(kind, w, shares[w.key], own, shared.something_else) for w in weighed]
    causes.sort(key=lambda one: -one.share)
    close = len(causes) > 1 and _is_close(causes)
    return Ranking(
        kind=kind,
        causes=tuple(causes),
        not_separated=close,
        verdict=NOT_SEPARATED if close else _verdict(kind, causes[0]),
        basis=_basis(own) if kind.causes else NOTHING_TO_RANK,
        checks=_check_values(kind, shares, results),
        facts_used=known.used(kind),
        facts_unknown=known.unknown(kind),
    )


def _known_checks(kind: Kind, checked: Mapping[str, bool]) -> Mapping[str, bool]:
    keys = {check.key for cause in kind.causes for check in cause.checks}
    for key in checked:
        if key not in keys:
            raise NotFoundError(f"check for {kind.key}", key)
    return checked


def _named(kind: Kind, counts: Mapping[str, int]) -> dict[str, int]:
    """Counts by the causes of the entry; what it does not name is something else."""
    named = {cause.key for cause in kind.causes}
    made: dict[str, int] = {}
    for key, count in counts.items():
        if count < 0:
            raise ValueError(f"{count} cases of {key!r}")
        name = key if key in named else SOMETHING_ELSE
        made[name] = made.get(name, 0) + count
    return made


def _ranked(
    kind: Kind, weighed: Weighed, share: float, own: int, other: SomethingElse
) -> RankedCause:
    cause = None if weighed.key == SOMETHING_ELSE else kind.cause(weighed.key)
    moving = [reason for reason in weighed.reasons if reason.factor > 0]
    raised = sorted((r for r in moving if r.factor > 1), key=lambda r: -r.factor)
    lowered = sorted((r for r in moving if r.factor < 1), key=lambda r: r.factor)
    return RankedCause(
        key=weighed.key,
        title=cause.title if cause else other.title,
        cause=cause,
        share=share,
        prior_share=weighed.prior_share,
        fit=_fit(share, weighed, bool(raised), own),
        weight=weighed.weight,
        raised_by=tuple(raised),
        lowered_by=tuple(lowered),
        ruled_out_by=tuple(r for r in weighed.reasons if r.factor == 0),
        trace=weighed.trace,
        something_else=None if cause else other,
    )


def _fit(share: float, weighed: Weighed, raised: bool, own: int) -> str:
    """The word that leads. Strong needs a reason, or the shop's own cases, not a prior alone."""
    if weighed.weight == 0:
        return "ruled out"
    reasoned = raised or own >= OWN_CASES or weighed.key == SOMETHING_ELSE
    if share >= STRONG_SHARE and reasoned:
        return "strong fit"
    return "fair" if share >= FAIR_SHARE else "weak"


def _is_close(causes: list[RankedCause]) -> bool:
    first, second = causes[:2]
    return second.share > 0 and log(first.share / second.share) < CLOSE_LOG_ODDS


def _verdict(kind: Kind, first: RankedCause) -> str:
    if not kind.causes:
        return NO_CAUSES
    if first.cause is None:
        return "nothing named here fits: look at the look-alikes, and at the record"
    return f"{first.fit}: {first.title}"


def _basis(own: int) -> str:
    if own >= OWN_CASES:
        return f"The shares rest on {plural(own, 'confirmed case')} of this shop."
    words = "The shares are expert judgement, unmeasured"
    if own:
        return f"{words}, moved by {plural(own, 'confirmed case')} of this shop."
    return f"{words}."


def _check_values(
    kind: Kind, shares: Mapping[str, float], results: Mapping[str, bool]
) -> tuple[CheckValue, ...]:
    """Every open check with what it is expected to tell, the best per minute first."""
    made = [
        _check_value(kind, cause, check, shares)
        for cause in kind.causes
        for check in cause.checks
        if check.key not in results and shares[cause.key] > 0
    ]
    made = [value for value in made if value.bits >= LEAST_BITS]
    return tuple(sorted(made, key=lambda value: -value.bits_per_minute))


def _check_value(kind: Kind, cause: Cause, check: Check, shares: Mapping[str, float]) -> CheckValue:
    positive = [*(chance(check, one) for one in kind.causes), check.false_alarm]
    present = [*(shares[one.key] for one in kind.causes), shares[SOMETHING_ELSE]]
    bits = information_gain_bits(present, positive)
    yes = sum(share * hit for share, hit in zip(present, positive, strict=True))
    now = shares[cause.key]
    why = (
        f"If so, “{cause.title}” goes from {percent(now)} to {percent(now * check.hit / yes)}; "
        f"if not, to {percent(now * (1 - check.hit) / (1 - yes))}. "
        f"It is expected to tell {figure(bits, 2)} bit in {with_unit(check.minutes, 'min')} of "
        "work; 1 bit settles an even yes or no."
    )
    return CheckValue(check, cause.key, bits, why)
