"""Two settings compared, in sentences: the difference and the ratio, each with its interval."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from defectlog.bench.fact_columns import WithTime
from defectlog.bench.fact_settings import SettingChoice
from defectlog.bench.goes_with_words import change_ends
from defectlog.bench.results import BuildValue, Result, ResultValues
from defectlog.charts import Ratio, WithinComparison
from defectlog.facts import Fact
from defectlog.units import figure, percent, plural

_ENOUGH = 2
# Where chance alone does as much less often than this, a difference passes for shown.
_CHANCE = 0.05


@dataclass(frozen=True, slots=True)
class Pair:
    """Two settings of one fact."""

    fact: Fact
    first: SettingChoice
    second: SettingChoice

    @property
    def choices(self) -> tuple[SettingChoice, SettingChoice]:
        return self.first, self.second

    @property
    def keys(self) -> tuple[str, str]:
        return self.first.key, self.second.key


def side_sentence(
    made: ResultValues,
    pair: Pair,
    found: WithinComparison | None,
    first_builds: Sequence[BuildValue],
    second_builds: Sequence[BuildValue],
    parts: int,
) -> str:
    """One sentence: what differs and by how much, with its intervals, or why nobody can tell."""
    result = made.result
    if found is None:
        words = _too_few(made, pair, (len(first_builds), len(second_builds)), parts)
        alone = parts == len(first_builds) == len(second_builds) == 1
        return words + (_two_alone(result, *first_builds, *second_builds) if alone else "")
    means = found.means
    first, second = result.write(means.mean_a), result.write(means.mean_b)
    settings = f"{first} with “{pair.first.words}” and {second} with “{pair.second.words}”"
    title = result.title
    verb = "were" if result.is_several else "was"
    turned = found.is_clear and means.difference < 0
    ends = change_ends(result, means.low, means.high, turned=turned)
    share = percent(means.confidence, 3)
    if means.low == means.high and means.difference == 0:
        return f"{title} {verb} the same on every build compared: {settings}."
    if not found.is_clear:
        return (
            f"No difference shown: {title.lower()} {verb} {settings}, {share} interval of the "
            f"difference {ends}{_ratio(result, means.ratio)}."
        )
    way = "higher" if means.difference > 0 else "lower"
    return (
        f"{title} {verb} {settings}: {result.write_change(abs(means.difference))} {way}, {share} "
        f"interval {ends}{_ratio(result, means.ratio)}."
    )


def _too_few(made: ResultValues, pair: Pair, numbers: tuple[int, int], parts: int) -> str:
    result = made.result
    if sum(numbers) == 0:
        return f"{made.title}: no build of either setting has {result.rests_on} yet."
    words = (
        f"{result.title} cannot be compared: {plural(numbers[0], 'build')} with "
        f"“{pair.first.words}” and {plural(numbers[1], 'build')} with “{pair.second.words}” "
        f"{'has' if sum(numbers) == 1 else 'have'} {result.rests_on}"
    )
    if parts > 1 and min(numbers) >= _ENOUGH:
        return f"{words}, but no part has two of each, and parts are not compared with each other."
    return f"{words}, and two of each are the least."


def _two_alone(result: Result, one: BuildValue, other: BuildValue) -> str:
    """Whether two builds differ by more than pieces of their surfaces may; nothing if unknown."""
    lower, upper = sorted((one, other), key=lambda build: build.value)
    if lower.high is None or upper.low is None:
        return ""
    apart = upper.value - lower.value
    reach = math.hypot(lower.high - lower.value, upper.value - upper.low)
    than = "more than" if apart > reach else "no more than"
    return (
        f" The two alone are {result.write_change(apart)} apart, {than} other pieces of the same "
        f"two surfaces might be ({result.write_change(reach)}, 95 %). One of each cannot say what "
        "builds made alike differ by."
    )


def ratio_words(ratio: Ratio | None) -> str:
    """A ratio with its interval: ``0.58 (0.36 to 0.81)``; nothing where it has none."""
    if ratio is None or ratio.low is None or ratio.high is None:
        return ""
    places = 2 if ratio.high < 10 else 0
    low = max(0.0, ratio.low)
    return f"{ratio.value:.{places}f} ({low:.{places}f} to {ratio.high:.{places}f})"


def _ratio(result: Result, ratio: Ratio | None) -> str:
    if ratio is None:
        return ""
    if not ratio_words(ratio):
        return "; the second is too close to 0 for a ratio"
    value, ends = ratio_words(ratio).removesuffix(")").split(" (")
    return f"; {value} times {'the mass' if result.key == 'mass' else 'as much'}, {ends}"


def chance_words(found: WithinComparison) -> str:
    """How often chance alone does as much; of random splits never less than one can say."""
    is_least = found.method != "every split" and found.p_value * found.splits < 2
    return ("less than " if is_least else "") + percent(found.p_value)


def side_asides(
    found: WithinComparison | None,
    used: Sequence[str],
    left_out: Sequence[str],
) -> tuple[str, ...]:
    """How one comparison was reached: the test, and which parts it rests on."""
    if found is None:
        return ()
    inside = " inside their part" if len(used) > 1 else ""
    how = (
        f"every one of {figure(found.splits, 6)} ways"
        if found.method == "every split"
        else f"{figure(found.splits, 6)} random ways, the same on every look"
    )
    said = [
        f"Dealing the builds out anew{inside} ({how}) gives as large a difference in "
        f"{chance_words(found)} of cases."
    ]
    if found.is_clear != (found.p_value <= _CHANCE):
        said.append(
            "Interval and test do not quite agree here. The interval allows for settings that "
            "spread differently, the test does not; take it as not settled, and make more builds."
        )
    if len(used) > 1:
        said.append(
            f"Compared inside {len(used)} parts ({', '.join(used)}); both means are over the "
            "same mix of them."
        )
    if left_out:
        said.append(
            f"Left out, for fewer than two builds of one of the settings: {', '.join(left_out)}."
        )
    return tuple(said)


def comparison_asides(
    pair: Pair,
    order: WithTime | None,
    with_it: Sequence[str],
    leaks: tuple[int, int],
    cut: float | None,
    older: int,
) -> tuple[str, ...]:
    """What else set the two apart, and how the figures are made."""
    said = []
    if with_it:
        named = "; ".join(label[:1].lower() + label[1:] for label in with_it)
        said.append(
            f"On these builds other facts changed together with this one, and the difference may "
            f"be theirs: {named}."
        )
    if order is not None:
        later, earlier = (
            (pair.second, pair.first) if order.later_is_second else (pair.first, pair.second)
        )
        share = "All" if order.is_all else "Nearly all"
        said.append(
            f"{share} builds with “{later.words}” came after those with “{earlier.words}”: "
            "whatever else changed over that time may be at work."
        )
    if any(leaks):
        said.append(
            f"The bag leaked on {leaks[0]} of the builds with “{pair.first.words}” and on "
            f"{leaks[1]} of those with “{pair.second.words}”; they count as they are."
        )
    if cut is not None:
        said.append("The number is cut where as many builds lie up to it as above.")
    if older:
        said.append(
            f"The newest builds are compared; {plural(older, 'older one')} "
            f"{'is' if older == 1 else 'are'} left out."
        )
    return tuple(said)
