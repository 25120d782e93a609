"""What a ranking says: the causes in order, the reasons in words, and every number behind."""

from dataclasses import dataclass
from typing import Any

from defectlog.guide.entry import Cause, Check, FactEffect, Kind
from defectlog.guide.shared import SomethingElse
from defectlog.units import figure, percent

SOMETHING_ELSE = "something-else"
NO_CAUSES = "no cause is written down for this kind"
NOTHING_TO_RANK = "There is nothing to rank until somebody writes the first one down."
NOT_SEPARATED = "not separated: do the check"


@dataclass(frozen=True, slots=True)
class Reason:
    """One known fact that moved one cause.

    ``effect.odds`` is the declared factor, ``factor`` the one that was counted: smaller where a
    stronger fact of the same group spoke already.
    """

    effect: FactEffect
    label: str
    value: Any
    value_words: str
    factor: float
    from_facts: tuple[str, ...]

    @property
    def in_words(self) -> str:
        """The reason as a sentence part: ``the bag leaked (drop test: fails), odds × 5``."""
        return (
            f"{self.effect.words} ({self.label[:1].lower()}{self.label[1:]}: {self.value_words})"
            f", odds {factor_words(self.factor)}"
        )

    def as_json(self) -> dict[str, Any]:
        return {
            "fact": self.effect.fact,
            "value": self.value,
            "words": self.effect.words,
            "factor": self.factor,
            "declared_factor": self.effect.odds,
            "from": list(self.from_facts),
        }


@dataclass(frozen=True, slots=True)
class TraceLine:
    """One step on the way from prior to share: what was done, and the weight after it."""

    words: str
    weight: float


@dataclass(frozen=True, slots=True)
class RankedCause:
    """One cause with its share and why.

    ``share`` is 0–1; with all others of the ranking it sums to 1. ``fit`` is strong fit, fair,
    weak or ruled out. ``cause`` is ``None`` for something else.
    """

    key: str
    title: str
    cause: Cause | None
    share: float
    prior_share: float
    fit: str
    weight: float
    raised_by: tuple[Reason, ...]
    lowered_by: tuple[Reason, ...]
    ruled_out_by: tuple[Reason, ...]
    trace: tuple[TraceLine, ...]
    something_else: SomethingElse | None = None

    def as_json(self) -> dict[str, Any]:
        """The cause as ``why --json`` prints it."""
        made: dict[str, Any] = {
            "cause": self.key,
            "title": self.title,
            "share": self.share,
            "raised_by": [reason.as_json() for reason in self.raised_by],
            "lowered_by": [reason.as_json() for reason in (*self.ruled_out_by, *self.lowered_by)],
        }
        return made | self._to_do()

    def _to_do(self) -> dict[str, Any]:
        if self.cause is None:
            other = self.something_else
            return {
                "checks": [{"check": self.key, "do": other.check}] if other else [],
                "fixes": [{"fix": "hold", "title": other.fix}] if other else [],
                "preventions": (
                    [{"prevention": self.key, "do": other.prevention}] if other else []
                ),
            }
        return {
            "checks": [
                {"check": c.key, "do": c.do, "positive": c.positive, "minutes": c.minutes}
                for c in self.cause.checks
            ],
            "fixes": [{"fix": f.key, "title": f.title} for f in self.cause.fixes],
            "preventions": [{"prevention": p.key, "do": p.do} for p in self.cause.preventions],
        }


@dataclass(frozen=True, slots=True)
class CheckValue:
    """What one check is expected to tell now."""

    check: Check
    cause: str
    bits: float
    why: str

    @property
    def bits_per_minute(self) -> float:
        return self.bits / self.check.minutes

    def as_json(self) -> dict[str, Any]:
        return {
            "check": self.check.key,
            "cause": self.cause,
            "do": self.check.do,
            "positive": self.check.positive,
            "minutes": self.check.minutes,
            "bits": self.bits,
            "bits_per_minute": self.bits_per_minute,
            "why": self.why,
        }


@dataclass(frozen=True, slots=True)
class Ranking:
    """The causes of a kind for one build, the likeliest first.

    ``not_separated`` is true when the leading two are too close to tell apart; ``verdict`` says
    so, or names the leader. ``checks`` are all that are still open, the best per minute first.
    ``basis`` says what the shares rest on.
    """

    kind: Kind
    causes: tuple[RankedCause, ...]
    not_separated: bool
    verdict: str
    basis: str
    checks: tuple[CheckValue, ...]
    facts_used: tuple[str, ...]
    facts_unknown: tuple[str, ...]

    @property
    def next_check(self) -> CheckValue | None:
        """The check that tells most per minute of work, or ``None`` if none tells anything."""
        return self.checks[0] if self.checks else None

    def cause(self, key: str) -> RankedCause:
        """The ranked cause of this key; ``KeyError`` if the kind has none."""
        for ranked in self.causes:
            if ranked.key == key:
                return ranked
        raise KeyError(key)

    def in_words(self) -> str:
        """The ranking as lines of text: the verdict, each cause with its reasons, what to check."""
        lines = [f"{self.kind.title}: {self.verdict}.", self.basis, ""]
        for ranked in self.causes:
            lines.append(f"{ranked.fit}, {percent(ranked.share)}: {ranked.title}")
            lines += [f"    raised: {reason.in_words}" for reason in ranked.raised_by]
            lines += [f"    lowered: {reason.in_words}" for reason in ranked.lowered_by]
            lines += [f"    ruled out: {r.effect.words}" for r in ranked.ruled_out_by]
        if self.next_check:
            check = self.next_check.check
            lines += ["", f"Check next ({figure(check.minutes)} min): {check.do}"]
            lines += [f"{caution.title}: {caution.say}" for caution in check.cautions]
        if self.facts_unknown:
            lines += ["", f"Not noted, would speak: {', '.join(self.facts_unknown)}"]
        return "\n".join(lines)

    def as_json(self) -> dict[str, Any]:
        """The object ``why --json`` prints."""
        return {
            "kind": self.kind.key,
            "causes": [ranked.as_json() for ranked in self.causes],
            "next_check": self.next_check.as_json() if self.next_check else None,
            "facts_used": list(self.facts_used),
            "facts_unknown": list(self.facts_unknown),
        }


def factor_words(factor: float) -> str:
    """``× 2.5``, or ``÷ 2.5`` for a factor below one."""
    if factor == 0:
        return "× 0"
    return f"× {figure(factor, 2)}" if factor >= 1 else f"÷ {figure(1 / factor, 2)}"
