"""A shop's own kinds, causes and fixes, made into entries like those of the guide.

What a shop adds is not weighed by anybody, so that its causes start as occasional and its
checks count little; its own confirmed cases then move them as they move any other. Whatever
hazard its words name is cautioned, chosen by the shop or not.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from defectlog.guide.entry import (
    Cause,
    Caution,
    Check,
    Family,
    Fix,
    Kind,
    Prevention,
    Source,
    Step,
)
from defectlog.guide.library import Library, guide_library, shared
from defectlog.guide.schema import PRIORS
from defectlog.guide.shared import called_for

THIS_SHOP = "this shop"
# Sorts after the guide's shelves, so that these keep their line patterns on photos.
OWN_FAMILY = Family("workshop", "The shop's own", "Kinds that were written down in a workshop.")
PRIOR = "occasional"
# Chances of a check nobody has weighed: it tells something, and far from everything. Judgement.
HIT, FALSE_ALARM = 0.7, 0.3


@dataclass(frozen=True, slots=True)
class OwnCheck:
    """What a shop looks at to confirm a cause of its own, and the minutes it takes, above 0."""

    do: str
    positive: str
    minutes: float


@dataclass(frozen=True, slots=True)
class OwnStep:
    """One step of a shop's fix: what to do, and the keys of the cautions chosen for it."""

    do: str
    cautions: tuple[str, ...] = ()


def own_cause(
    key: str,
    title: str,
    *,
    why: str = "",
    check: OwnCheck | None = None,
    prevention: str = "",
    origin: str = THIS_SHOP,
) -> Cause:
    """A cause of a shop. It gets the cautions that the words of its check call for."""
    source = _by(origin)
    checks: tuple[Check, ...] = ()
    if check is not None:
        cautions = _cautions(check.do)
        checks = (
            Check(key, check.do, check.positive, check.minutes, HIT, FALSE_ALARM, (), cautions),
        )
    return Cause(
        key=key,
        title=title,
        why=why,
        prior=PRIOR,
        prior_weight=PRIORS[PRIOR],
        facts=(),
        checks=checks,
        fixes=(),
        preventions=(Prevention(key, prevention, (source,)),) if prevention else (),
        sources=(source,),
        origin=origin,
    )


def own_fix(
    key: str,
    title: str,
    *,
    outcome: str,
    steps: Sequence[OwnStep],
    not_when: Sequence[str],
    reinspect: Sequence[str] = (),
    time: str = "",
    origin: str = THIS_SHOP,
) -> Fix:
    """A fix of a shop. Its steps get the cautions chosen and those that their words call for."""
    return Fix(
        key=key,
        title=title,
        outcome=outcome,
        steps=tuple(Step(step.do, _cautions(step.do, step.cautions)) for step in steps),
        not_when=tuple(not_when),
        reinspect=tuple(reinspect),
        time=time or "time not noted",
        sources=(_by(origin),),
        again_cautions=_cautions(" ".join(reinspect)),
        origin=origin,
    )


def not_chosen(step: OwnStep) -> Iterator[tuple[Caution, str]]:
    """The cautions a step calls for that were not chosen, each with the word that calls."""
    for caution, word in called_for(step.do, shared().cautions.values()):
        if caution.key not in step.cautions:
            yield caution, word


def _cautions(words: str, chosen: Iterable[str] = ()) -> tuple[Caution, ...]:
    """Cautions chosen and those that the words call for, in the guide's order."""
    known = shared().cautions
    wanted = {caution.key for caution, _ in called_for(words, known.values())}.union(chosen)
    return tuple(one for key, one in known.items() if key in wanted)


def _by(origin: str) -> Source:
    return Source("own", f"Written down by {origin}", f"by {origin}", "")


def own_kind(
    key: str, code: str, title: str, *, look: str, definition: str, origin: str = THIS_SHOP
) -> Kind:
    """A kind of a shop, without causes yet."""
    return Kind(
        key=key,
        title=title,
        code=code,
        family=OWN_FAMILY,
        concern="",
        definition=definition,
        look=look,
        feel="",
        words=(),
        photograph=(),
        measure=(),
        unlike=(),
        causes=(),
        fixes=(),
        preventions=(),
        claims=(),
        disputes=(),
        origin=origin,
    )


def with_causes(kind: Kind, causes: Iterable[Cause], fixes: Iterable[Fix] = ()) -> Kind:
    """The kind with a shop's causes and fixes behind its own, and their preventions."""
    causes, fixes = tuple(causes), tuple(fixes)
    if not (causes or fixes):
        return kind
    return replace(
        kind,
        causes=kind.causes + causes,
        fixes=kind.fixes + fixes,
        preventions=kind.preventions + tuple(p for cause in causes for p in cause.preventions),
    )


def with_own(
    kinds: Sequence[Kind],
    causes: Mapping[str, Sequence[Cause]],
    fixes: Mapping[str, Sequence[Fix]] | None = None,
) -> Library:
    """The guide with a shop's kinds on a shelf of their own, and its causes and fixes by kind."""
    guide = guide_library()
    own = sorted(kinds, key=lambda kind: kind.title.casefold())
    held = (
        with_causes(kind, causes.get(kind.key, ()), (fixes or {}).get(kind.key, ()))
        for kind in (*guide.kinds, *own)
    )
    return Library(tuple(held), (*guide.shelves, OWN_FAMILY))
