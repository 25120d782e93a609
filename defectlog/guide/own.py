"""A shop's own kinds and causes, made into entries like those of the guide.

What a shop adds is not weighed by anybody, so that its causes start as occasional and its
checks count little; its own confirmed cases then move them as they move any other.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from defectlog.guide.entry import Cause, Check, Family, Kind, Prevention, Source
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
    source = Source("own", f"Written down by {origin}", f"by {origin}", "")
    checks: tuple[Check, ...] = ()
    if check is not None:
        cautions = tuple(c for c, _ in called_for(check.do, shared().cautions.values()))
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


def with_causes(kind: Kind, causes: Iterable[Cause]) -> Kind:
    """The kind with a shop's causes behind its own, and their preventions."""
    added = tuple(causes)
    if not added:
        return kind
    return replace(
        kind,
        causes=kind.causes + added,
        preventions=kind.preventions + tuple(p for cause in added for p in cause.preventions),
    )


def with_own(kinds: Sequence[Kind], causes: Mapping[str, Sequence[Cause]]) -> Library:
    """The guide with a shop's kinds on a shelf of their own, and its causes by key of the kind."""
    guide = guide_library()
    own = sorted(kinds, key=lambda kind: kind.title.casefold())
    held = (with_causes(kind, causes.get(kind.key, ())) for kind in (*guide.kinds, *own))
    return Library(tuple(held), (*guide.shelves, OWN_FAMILY))
