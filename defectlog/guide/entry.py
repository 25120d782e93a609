"""One entry of the guide, as frozen values: a kind, its causes, checks, fixes and sources.

The values are made by :mod:`defectlog.guide.schema` from the data files and are complete:
cautions, sources and routines are held as objects, not as keys still to be looked up.
"""

from dataclasses import dataclass

from defectlog.units import with_unit


@dataclass(frozen=True, slots=True)
class Source:
    """Where a claim comes from, and honestly how much of it was read.

    ``standing`` is published, recalled, common practice or expert judgement; ``read`` says
    what was read ("abstract", "relevant pages"), and is empty where nothing could be.
    """

    key: str
    cite: str
    standing: str
    read: str

    @property
    def in_words(self) -> str:
        """``Title … [read: abstract]``, or the standing where there is no paper to read."""
        if self.standing == "published":
            return f"{self.cite} [read: {self.read}]"
        if self.standing == "recalled":
            return f"{self.cite} [recalled, not opened again]"
        return self.cite


@dataclass(frozen=True, slots=True)
class Caution:
    """What can hurt, said before the step. ``words`` are those that call for it."""

    key: str
    title: str
    say: str
    words: tuple[str, ...]
    sources: tuple[Source, ...]


@dataclass(frozen=True, slots=True)
class QuickTest:
    """A test of a few minutes at the part, with what it tells and where it misleads."""

    key: str
    title: str
    how: str
    tells: str
    misleads: str
    cautions: tuple[Caution, ...]
    sources: tuple[Source, ...]


@dataclass(frozen=True, slots=True)
class Family:
    """A shelf of the guide: kinds that are met in the same place."""

    key: str
    title: str
    say: str


@dataclass(frozen=True, slots=True)
class FactGroup:
    """Build facts that speak of one and the same thing, so that they are no independent
    witnesses: within a group only the strongest reason each way counts fully."""

    key: str
    title: str
    facts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do, with the cautions to read first; ``routine`` names where it is from."""

    do: str
    cautions: tuple[Caution, ...]
    routine: str = ""


@dataclass(frozen=True, slots=True)
class Routine:
    """Steps that several fixes share."""

    key: str
    title: str
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class Fix:
    """How to put this part right, and when not to.

    ``again_cautions`` are those that the words of ``reinspect`` call for. ``origin`` is empty for
    the guide's own, else who says so: ``this shop``, another's name.
    """

    key: str
    title: str
    outcome: str
    steps: tuple[Step, ...]
    not_when: tuple[str, ...]
    reinspect: tuple[str, ...]
    time: str
    sources: tuple[Source, ...]
    again_cautions: tuple[Caution, ...] = ()
    origin: str = ""

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """Every caution of every step and of the second look once, in order of first need."""
        held = (*(step.cautions for step in self.steps), self.again_cautions)
        return tuple(dict.fromkeys(caution for cautions in held for caution in cautions))


@dataclass(frozen=True, slots=True)
class Prevention:
    """What to do otherwise on the next build."""

    key: str
    do: str
    sources: tuple[Source, ...]


@dataclass(frozen=True, slots=True)
class FactEffect:
    """How one known build fact moves the odds of a cause.

    ``strength`` is a word of the strength scale (``+++`` … ``---``, ``x``), ``odds`` the
    factor it stands for (0 for ``x``). The fact speaks when its value is among ``values``,
    or, for a number, lies in ``above`` <= value < ``below``.
    """

    fact: str
    strength: str
    odds: float
    words: str
    group: str
    values: tuple[object, ...] = ()
    above: float | None = None
    below: float | None = None

    @property
    def strength_words(self) -> str:
        """How much it says: ``strongly for it`` … ``rules it out``."""
        if not self.odds:
            return "rules it out"
        much = {1: "weakly", 2: "", 3: "strongly"}[len(self.strength)]
        return f"{much} {'for' if self.odds > 1 else 'against'} it".strip()

    def speaks(self, value: object) -> bool:
        """Whether this value of the fact is the one the effect is about."""
        if self.values:
            return any(type(value) is type(own) and value == own for own in self.values)
        if isinstance(value, bool) or not isinstance(value, int | float):
            return False
        return (self.above is None or value >= self.above) and (
            self.below is None or value < self.below
        )


@dataclass(frozen=True, slots=True)
class Check:
    """Something to look at that confirms or refutes a cause.

    ``minutes`` and the chances are judgement: ``hit`` is the chance of a positive result
    when the cause is the true one, ``false_alarm`` when another is; ``also`` gives the
    chance for those other causes on which the same result is expected more often.
    """

    key: str
    do: str
    positive: str
    minutes: float
    hit: float
    false_alarm: float
    also: tuple[tuple[str, float], ...]
    cautions: tuple[Caution, ...]

    @property
    def time_words(self) -> str:
        """``3 min``, or ``3 h`` from an hour and a half on."""
        if self.minutes < 90:
            return with_unit(self.minutes, "min")
        return with_unit(self.minutes / 60, "h", digits=2)

    @property
    def chances_words(self) -> str:
        """How far the result can be trusted, for a person."""
        return (
            f"expected in {round(100 * self.hit)} of 100 cases of this cause, "
            f"and in {round(100 * self.false_alarm)} of 100 others"
        )


@dataclass(frozen=True, slots=True)
class Cause:
    """One way the defect comes about.

    ``origin`` is empty for the guide's own, else who says so: ``this shop``, another's name.
    """

    key: str
    title: str
    why: str
    prior: str
    prior_weight: float
    facts: tuple[FactEffect, ...]
    checks: tuple[Check, ...]
    fixes: tuple[Fix, ...]
    preventions: tuple[Prevention, ...]
    sources: tuple[Source, ...]
    origin: str = ""


@dataclass(frozen=True, slots=True)
class LookAlike:
    """What it is taken for. ``kind`` is empty while the guide has no entry for it."""

    title: str
    kind: str
    tell: str
    test: QuickTest | None


@dataclass(frozen=True, slots=True)
class Claim:
    """A statement worth knowing, with its sources."""

    say: str
    sources: tuple[Source, ...]


@dataclass(frozen=True, slots=True)
class Dispute:
    """A point on which the trade is split; both sides are shown, none is picked."""

    about: str
    one: str
    other: str
    sources: tuple[Source, ...]


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of defect with all the guide knows of it.

    ``origin`` is empty for the guide's own, else who says so: ``this shop``, another's name.
    Such a kind has no ``concern`` and may have no causes.
    """

    key: str
    title: str
    code: str
    family: Family
    concern: str
    definition: str
    look: str
    feel: str
    words: tuple[str, ...]
    photograph: tuple[str, ...]
    measure: tuple[str, ...]
    unlike: tuple[LookAlike, ...]
    causes: tuple[Cause, ...]
    fixes: tuple[Fix, ...]
    preventions: tuple[Prevention, ...]
    claims: tuple[Claim, ...]
    disputes: tuple[Dispute, ...]
    origin: str = ""

    def cause(self, key: str) -> Cause:
        """The cause of this key; ``KeyError`` if the kind has none."""
        for cause in self.causes:
            if cause.key == key:
                return cause
        raise KeyError(key)

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """Every caution of a check or a fix once, in order of first need."""
        checks = (check.cautions for cause in self.causes for check in cause.checks)
        held = (*checks, *(fix.cautions for fix in self.fixes))
        return tuple(dict.fromkeys(caution for cautions in held for caution in cautions))

    def told_above(self, fix: Fix, routine: str) -> Fix | None:
        """The first fix before this one with the steps of the same routine, if there is one."""
        before = self.fixes[: self.fixes.index(fix)] if routine and fix in self.fixes else ()
        return next((one for one in before if any(s.routine == routine for s in one.steps)), None)

    @property
    def facts(self) -> tuple[str, ...]:
        """Every build fact some cause asks about, once, in order of the file."""
        return tuple(dict.fromkeys(e.fact for cause in self.causes for e in cause.facts))

    @property
    def sources(self) -> tuple[Source, ...]:
        """Every source of the entry once, published ones first."""
        held = [self.claims, self.disputes, self.causes, self.fixes, self.preventions]
        found = dict.fromkeys(s for rows in held for row in rows for s in row.sources)
        return tuple(sorted(found, key=lambda s: ("published", "recalled").count(s.standing) == 0))
