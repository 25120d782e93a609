"""A result beside many facts of the same builds: which of them it moves with, and how far."""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from defectlog.charts.discovery import can_be_found, false_discovery
from defectlog.charts.effects import middle_cut, shift_between
from defectlog.charts.reshuffle import DRAWS, ranks_within, reshuffled_p
from defectlog.charts.slopes import Slope, middle_slope

# A setting made on fewer builds is left out: its own spread cannot be told from its effect.
LEAST_OF_SETTING = 3
MOST_SETTINGS = 8
RATE = 0.10

Known = float | str | bool | None


@dataclass(frozen=True, slots=True)
class Column:
    """One fact of every build, None where it is not known; numbers or the words of settings."""

    name: str
    values: tuple[Known, ...]
    is_number: bool = False


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting of a fact: on how many builds, and the median of the result there."""

    value: Known
    builds: int
    median: float


@dataclass(frozen=True, slots=True)
class Association:
    """How a result moves with one fact.

    ``slope`` is per unit of a number; of settings it is the shift from ``between[0]`` to
    ``between[1]``, and with more than two those are the two furthest apart, the interval wide
    enough for having chosen them. With a ``cut`` it is the shift from the builds up to that
    number to those above it, and ``between`` is (False, True). ``p_value`` comes from
    ``splits`` random orders, ``q_value`` is corrected for all the facts that were judged.
    ``indices`` are the builds it rests on.
    """

    name: str
    indices: tuple[int, ...]
    settings: tuple[Setting, ...]
    between: tuple[Known, Known] | None
    cut: float | None
    slope: Slope
    p_value: float
    splits: int
    q_value: float

    @property
    def builds(self) -> int:
        return len(self.indices)


@dataclass(frozen=True, slots=True)
class Unjudged:
    """A fact that could not be judged: ``why`` is ``unknown``, ``alike`` or ``few``."""

    name: str
    why: str
    builds: int


@dataclass(frozen=True, slots=True)
class _Question:
    name: str
    rows: NDArray[np.int64]
    x: NDArray[np.float64]
    settings: tuple[Known, ...]  # empty for a number
    least_p: float


@dataclass(frozen=True, slots=True)
class _Chance:
    p_value: float
    splits: int
    q_value: float


def associations(
    values: Sequence[float],
    columns: Sequence[Column],
    *,
    strata: Sequence[int] | None = None,
    rate: float = RATE,
    by_means: bool = False,
    random_state: int = 0,
) -> tuple[tuple[Association, ...], tuple[Unjudged, ...]]:
    """Judge every fact that the builds can carry a judgement on.

    Parameters
    ----------
    values : finite numbers, one a build
    columns : facts, each with one value a build
    strata : optional
        Group of each build, such as its part. Builds are compared inside their group only, so
        that parts that differ anyway do not pass for an effect.
    rate : 0–1, optional
        The false discovery rate to be kept: a fact that could not pass it with any values is
        not judged and does not count in the correction.
    by_means : bool, optional
        Tell effects as differences of means, numbers cut at their median: for results of which
        many are the same, such as counts with many zeros, whose middle does not move.
    random_state : int, optional
        The same start gives the same answer.

    Returns
    -------
    (associations, unjudged)
        The first by rising q, then p; the second in the order of the columns.

    Notes
    -----
    Ranks of the result inside each group, reshuffled inside each group: for a number against its
    own ranks (Spearman), for settings as W. H. Kruskal and W. A. Wallis, J. Am. Stat. Assoc. 47,
    1952, and over groups with the weights of P. van Elteren, 1960. Effects: ``middle_slope``, or
    ``means_within``.
    The test takes builds of a group to be exchangeable; builds made one after the other are
    often alike for reasons nobody wrote down, and then p is too small.
    """
    y = np.asarray(values, dtype=np.float64)
    groups = np.zeros(y.size, dtype=np.int64) if strata is None else np.asarray(strata)
    questions: list[_Question] = []
    unjudged: dict[str, Unjudged] = {}
    for column in columns:
        made = _ask(column, y, groups)
        if isinstance(made, Unjudged):
            unjudged[column.name] = made
        else:
            questions.append(made)
    passing = can_be_found([question.least_p for question in questions], rate=rate)
    judged = []
    for question, may in zip(questions, passing, strict=True):
        if may:
            judged.append(question)
        else:
            unjudged[question.name] = Unjudged(question.name, "few", question.rows.size)
    chances = [_chance(question, y, groups, random_state) for question in judged]
    q_values = false_discovery(p for p, _ in chances)
    found = [
        _told(question, y, groups, _Chance(p, splits, q), by_means)
        for question, (p, splits), q in zip(judged, chances, q_values, strict=True)
    ]
    # Ties go by their chance, then by the order of the columns.
    found.sort(key=lambda one: (one.q_value, one.p_value))
    return tuple(found), tuple(unjudged[c.name] for c in columns if c.name in unjudged)


def _ask(column: Column, y: NDArray[np.float64], groups: NDArray[np.int64]) -> _Question | Unjudged:
    known = [index for index, value in enumerate(column.values) if value is not None]
    if not known:
        return Unjudged(column.name, "unknown", 0)
    told = [column.values[index] for index in known]
    if len(set(told)) == 1:
        return Unjudged(column.name, "alike", len(known))
    settings: tuple[Known, ...] = ()
    if column.is_number:
        x = np.array([float(value or 0) for value in told])
    else:
        often = Counter(told).most_common(MOST_SETTINGS)
        kept = {value for value, number in often if number >= LEAST_OF_SETTING}
        settings = tuple(value for value in dict.fromkeys(told) if value in kept)
        if len(settings) < 2:
            return Unjudged(column.name, "few", len(known))
        pairs = [(i, settings.index(v)) for i, v in zip(known, told, strict=True) if v in kept]
        known = [index for index, _ in pairs]
        x = np.array([float(place) for _, place in pairs])
    rows = np.array(known)
    if _log_ways(x, groups[rows]) == 0:  # it differs, but never inside a group
        return Unjudged(column.name, "alike", len(known))
    return _Question(column.name, rows, x, settings, _least_p(x, y[rows], groups[rows]))


def _least_p(x: NDArray[np.float64], y: NDArray[np.float64], groups: NDArray[np.int64]) -> float:
    """No reshuffling can give a smaller p: that of the two orders furthest out, of all there are.

    Values that tie, in the fact or in the result, leave fewer orders to tell apart.
    """
    log_orders = sum(
        min(_log_orders(x[groups == group]), _log_orders(y[groups == group]))
        for group in np.unique(groups)
    )
    return min(1.0, max(2 * math.exp(-log_orders), 1 / (DRAWS + 1)))


def _log_ways(x: NDArray[np.float64], groups: NDArray[np.int64]) -> float:
    return sum(_log_orders(x[groups == group]) for group in np.unique(groups))


def _log_orders(values: NDArray[np.float64]) -> float:
    ties = np.unique(values, return_counts=True)[1]
    if ties.size < 2:
        return 0.0
    return math.lgamma(values.size + 1) - sum(math.lgamma(int(n) + 1) for n in ties)


def _chance(
    question: _Question,
    y: NDArray[np.float64],
    groups: NDArray[np.int64],
    random_state: int,
) -> tuple[float, int]:
    rows = question.rows
    scores = ranks_within(y[rows], groups[rows])
    if question.settings:
        own = (question.x[:, None] == np.arange(len(question.settings))).astype(np.float64)
        weights = own / np.sqrt(own.sum(axis=0))
    else:
        weights = ranks_within(question.x, groups[rows])[:, None]
    return reshuffled_p(scores, weights, groups[rows], random_state=random_state)


def _told(
    question: _Question,
    y: NDArray[np.float64],
    groups: NDArray[np.int64],
    chance: _Chance,
    by_means: bool,
) -> Association:
    rows, x = question.rows, question.x
    own, within = y[rows], groups[rows]
    settings: tuple[Setting, ...] = ()
    between: tuple[Known, Known] | None = None
    cut = None
    slope = None
    if question.settings:
        settings = tuple(
            Setting(value, int((x == place).sum()), float(np.median(own[x == place])))
            for place, value in enumerate(question.settings)
        )
        slope, between = _furthest(question, own, within, by_means)
    elif by_means:
        cut = middle_cut(x.tolist())
        slope, between = shift_between(x > cut, own, within, 0.95, by_means), (False, True)
    else:
        slope = middle_slope(x.tolist(), own.tolist(), strata=within.tolist())
    return Association(
        name=question.name,
        indices=tuple(int(row) for row in rows),
        settings=settings,
        between=between,
        cut=cut,
        slope=slope or Slope(0.0, 0.0, 0.0, 0),
        p_value=chance.p_value,
        splits=chance.splits,
        q_value=chance.q_value,
    )


def _furthest(
    question: _Question, y: NDArray[np.float64], groups: NDArray[np.int64], by_means: bool
) -> tuple[Slope | None, tuple[Known, Known] | None]:
    """The two settings furthest apart, and the shift from one to the other."""
    x = question.x
    pairs = list(combinations(range(len(question.settings)), 2))
    best: tuple[Slope, tuple[Known, Known]] | None = None
    for first, second in pairs:
        among = (x == first) | (x == second)
        confidence = 1 - 0.05 / len(pairs)
        slope = shift_between(x[among] == second, y[among], groups[among], confidence, by_means)
        if slope and (best is None or abs(slope.value) > abs(best[0].value)):
            best = slope, (question.settings[first], question.settings[second])
    return best or (None, None)
