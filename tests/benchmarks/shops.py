"""Simulated shops in which the true cause of every defect is known.

A shop has its own habits: how often each fact takes which value when nothing is wrong. What
speaks for a cause is then as usual as anything else, or, in a careful shop, rarer. A cause
shifts the facts by the odds the guide declares for it, raised to the power ``strength``: 1 as
declared, 0.5 half as much on the log scale, 0 not at all. Facts of one group of the guide hang
together through a shared latent (Gaussian copula), as a bag that fails its drop test also tends
to lose its vacuum, whatever the cause. Each fact is known with the chance ``known``.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

from defectlog.derived import DERIVED
from defectlog.facts import FACTS
from defectlog.guide import Kind, library
from defectlog.guide.ranked import SOMETHING_ELSE
from defectlog.guide.weighing import prior_shares

# What a ruling fact leaves of the odds in every world: no tack, no tack residue, except where
# the record is wrong.
RULED_OUT = 0.02


@dataclass(frozen=True, slots=True)
class World:
    """How the simulated shops are: ``strength`` of the declared effects, ``bond`` between facts of
    one group (0 to 1), ``day`` between all facts of a build, chance that a fact is ``known``, how
    many ``cases`` the guide's priors are worth there (None: they hold exactly), and whether the
    shops are ``careful``."""

    name: str
    strength: float | None  # None: another one for every effect, evenly from 0 to 1
    bond: float = 0.8
    day: float = 0.0
    known: float = 0.5
    cases: float | None = None
    careful: bool = False


AS_DECLARED = World("as declared", 1.0)
HALF = World("half of it true", 0.5)
OTHER_CAUSES = World("half, and other causes", 0.5, cases=5.0)
WORLDS = (
    AS_DECLARED,
    World("as declared, loose facts", 1.0, bond=0.0),
    World("as declared, careful shops", 1.0, careful=True),
    World("as declared, all known", 1.0, known=1.0),
    HALF,
    World("half, careful shops", 0.5, careful=True),
    World("half, all known", 0.5, known=1.0),
    World("half, a day's facts related", 0.5, day=0.3),
    World("each from none to all", None),
    World("none of it true", 0.0),
    OTHER_CAUSES,
)


@dataclass(frozen=True, slots=True)
class Levels:
    """The values a fact can take, one for each stretch of a number between bounds."""

    fact: str
    values: tuple[Any, ...]


@dataclass(frozen=True, slots=True)
class Case:
    """One defect: what is known of its build, and what brought it about."""

    facts: Mapping[str, Any]
    cause: str


class Shop:
    """One shop's defects of one kind."""

    def __init__(self, kind: Kind, world: World, rng: np.random.Generator):
        self._rng = rng
        self._world = world
        prior = prior_shares(kind, library.shared())
        self.causes = tuple(prior)
        self.shares = np.array([prior[key] for key in self.causes])
        if world.cases is not None:
            self.shares = rng.dirichlet(world.cases * self.shares)
        self._levels = levels_of(kind)
        groups = [library.shared().group_of(row.fact) for row in self._levels]
        self._group = np.array([sorted(set(groups)).index(name) for name in groups], int)
        # By fact: chance of each level (columns) under each cause (rows).
        self.chances = {row.fact: self._of_fact(kind, row) for row in self._levels}

    def _of_fact(self, kind: Kind, row: Levels) -> NDArray[np.float64]:
        """Chance of each level (columns) under each cause (rows), proportional to the shop's habit
        times the declared odds to the power of the world's strength."""
        usual = np.full(len(row.values), 1.5)
        if self._world.careful:
            raises = [declared(kind, cause.key, row) > 1 for cause in kind.causes]
            usual[np.any(raises, axis=0)] = 0.5
        habit = self._rng.dirichlet(usual)
        chances = np.tile(habit, (len(self.causes), 1))
        for i, key in enumerate(self.causes):
            if key != SOMETHING_ELSE:
                odds = declared(kind, key, row)
                chances[i] *= np.where(odds > 0, odds ** self._strength(), RULED_OUT)
        return chances / chances.sum(axis=1, keepdims=True)

    def _strength(self) -> float:
        return self._rng.uniform() if self._world.strength is None else self._world.strength

    def case(self) -> Case:
        """Draw a defect: the cause first, then the facts it leaves behind."""
        world, rng = self._world, self._rng
        cause = int(rng.choice(len(self.causes), p=self.shares))
        group = rng.standard_normal(self._group.max(initial=0) + 1)[self._group]
        mixed = (
            np.sqrt(world.day) * rng.standard_normal()
            + np.sqrt(world.bond * (1 - world.day)) * group
            + np.sqrt((1 - world.bond) * (1 - world.day)) * rng.standard_normal(len(group))
        )
        places = norm.cdf(mixed)
        facts = {}
        for row, place in zip(self._levels, places, strict=True):
            if rng.uniform() < world.known:
                at = int(np.searchsorted(np.cumsum(self.chances[row.fact][cause]), place))
                facts[row.fact] = row.values[min(at, len(row.values) - 1)]
        return Case(facts, self.causes[cause])

    def cases(self, count: int) -> Iterator[Case]:
        return (self.case() for _ in range(count))


def declared(kind: Kind, cause: str, row: Levels) -> NDArray[np.float64]:
    """The factor declared for each level of a fact under a cause; 1 where the guide is silent."""
    effects = [effect for effect in kind.cause(cause).facts if effect.fact == row.fact]
    return np.array(
        [float(np.prod([e.odds for e in effects if e.speaks(value)])) for value in row.values]
    )


@cache
def levels_of(kind: Kind) -> tuple[Levels, ...]:
    """Every fact the kind asks about, its values from least to most for its main cause."""
    rows = [Levels(fact, _values(kind, fact)) for fact in kind.facts]
    return tuple(_ordered(kind, row) for row in rows)


def _values(kind: Kind, fact: str) -> tuple[Any, ...]:
    if fact in DERIVED:
        return tuple(DERIVED[fact].values)
    known = FACTS[fact]
    if known.kind == "yes-no":
        return (False, True)
    if known.kind == "choice":
        return tuple(known.choices)
    bounds = {
        bound
        for cause in kind.causes
        for effect in cause.facts
        if effect.fact == fact
        for bound in (effect.above, effect.below)
        if bound is not None
    }
    low, high = known.low or 0.0, known.high or 1e6
    return tuple((a + b) / 2 for a, b in pairwise(sorted({low, high, *bounds})))


def _ordered(kind: Kind, row: Levels) -> Levels:
    def weight(cause: str) -> float:
        return float(np.abs(np.log(np.maximum(declared(kind, cause, row), RULED_OUT))).sum())

    main = max((cause.key for cause in kind.causes), key=weight)
    odds = declared(kind, main, row)
    return Levels(row.fact, tuple(row.values[i] for i in np.argsort(odds, kind="stable")))
