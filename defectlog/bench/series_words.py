"""The sentence above a chart of any result, and every build of it in words."""

from collections.abc import Sequence
from dataclasses import dataclass

from defectlog.bench.marked_changes import MarkedChange
from defectlog.bench.results import ResultValues
from defectlog.charts import (
    Phase,
    Turn,
    WithinMeans,
    mean_interval_of,
    means_within,
    poisson_limits,
)
from defectlog.charts.change import LEAST_FOR_LIMITS, LEAST_PER_PHASE
from defectlog.units import plural

Values = Sequence[float | None]

# The first so many values of a stretch set its limits; later builds do not move them.
BASELINE = 20


@dataclass(frozen=True, slots=True)
class Charted:
    """What there is to tell of: values in the order of the builds, and their limits.

    ``phases`` cover the values without gaps between them; ``baseline`` are the indices of those
    that set limits; ``leaks`` the builds whose bag leaked. ``left_out`` builds of the set are not
    drawn; they lie before index ``gap``, if that is given, or before the first.
    """

    made: ResultValues
    builds: str
    numbers: tuple[int, ...]
    values: tuple[float | None, ...]
    phases: tuple[Phase, ...]
    changes: tuple[MarkedChange, ...]
    turn: Turn
    baseline: tuple[int, ...]
    left_out: int = 0
    gap: int | None = None
    parts: tuple[int, ...] = ()
    leaks: frozenset[int] = frozenset()

    @property
    def leaky(self) -> list[int]:
        """The builds with a value whose bag leaked."""
        pairs = zip(self.numbers, self.values, strict=True)
        return [number for number, value in pairs if number in self.leaks and value is not None]

    def sound_values(self, change: MarkedChange) -> Values | None:
        """The values without those of leaking bags, if enough are left on both sides of a change.

        A known upset is no way of making parts, and sets no limits either.
        """
        sound = [
            None if number in self.leaks else value
            for number, value in zip(self.numbers, self.values, strict=True)
        ]
        sides = [phase for phase in self.phases if change.index in (phase.start, phase.stop)]
        left = min(len(known(sound[phase.start : phase.stop])) for phase in sides)
        return sound if self.leaky and left >= LEAST_PER_PHASE else None

    @property
    def subject(self) -> str:
        """What the sentences speak of; the surface stands in the heading."""
        return self.made.result.title if self.made.result.of_surface else self.made.title

    @property
    def known(self) -> list[float]:
        return known(self.values)

    @property
    def split(self) -> MarkedChange | None:
        """The newest change at which the limits were computed anew."""
        starts = {phase.start for phase in self.phases[1:]}
        return next((one for one in reversed(self.changes) if one.index in starts), None)


def listed(numbers: Sequence[int]) -> str:
    """``3, 7 and 12``."""
    *most, last = map(str, numbers)
    return f"{', '.join(most)} and {last}" if most else last


def known(values: Values) -> list[float]:
    """The values there are."""
    return [value for value in values if value is not None]


def series_sentence(charted: Charted) -> str:
    """One sentence: what the series shows, with its interval, or that there is not enough yet."""
    taken = charted.known
    result = charted.made.result
    if not taken:
        return f"No build has {result.rests_on} yet ({charted.builds})."
    mean = result.write(sum(taken) / len(taken))
    if len(taken) < LEAST_FOR_LIMITS:
        more = LEAST_FOR_LIMITS - len(taken)
        return (
            f"{charted.subject}: {plural(len(taken), 'build')} so far, mean "
            f"{mean}, not enough to say what is usual. {plural(more, 'more build')}, and limits "
            "can be drawn."
        )
    change = charted.split
    if change is not None:
        return change_sentence(charted, change) + _outside(charted.phases) + "."
    words = f"{charted.subject} average{'' if result.is_several else 's'} {mean} over "
    words += f"the {len(taken)} builds drawn" if charted.left_out else f"{len(taken)} builds"
    if min(taken) == max(taken):
        return (
            words + ", every one the same" + _none_counted(charted) + _outside(charted.phases) + "."
        )
    interval = mean_interval_of(taken, turn=result.turn)
    if interval is not None:
        low = max(0.0, interval.low) if result.has_floor else interval.low
        words += f", 95 % interval of the mean {result.write_range(low, interval.high)}"
    if all(phase.chart is None for phase in charted.phases):
        return words + "; too few of them follow each other for limits."
    return words + (_outside(charted.phases) or "; no build is outside the limits") + "."


def told_apart(charted: Charted, change: MarkedChange, values: Values) -> WithinMeans:
    """These values from a change on, against those of the stretch before it.

    Parts are compared each with itself, where any has two builds on either side: another mix of
    parts is no change. No p-value: no sentence tells one, and dealing anew takes longest by far.
    """
    before = next(phase for phase in charted.phases if phase.stop == change.index)
    after = next(phase for phase in charted.phases if phase.start == change.index)
    sides: dict[int, tuple[list[float], list[float]]] = {}
    for place, phase in enumerate((after, before)):
        for index in range(phase.start, phase.stop):
            value = values[index]
            if value is not None:
                part = charted.parts[index] if charted.parts else 0
                sides.setdefault(part, ([], []))[place].append(value)
    if all(min(map(len, pair)) < 2 for pair in sides.values()):
        both = (known(values[p.start : p.stop]) for p in (after, before))
        return means_within([tuple(both)], turn=charted.made.result.turn)
    return means_within(list(sides.values()), turn=charted.made.result.turn)


def direction(found: WithinMeans) -> str:
    """``fell`` or ``rose``."""
    return "rose" if found.difference > 0 else "fell"


def levels(charted: Charted, found: WithinMeans) -> str:
    """``from 2.1 % to 0.60 %``."""
    write = charted.made.result.write
    return f"from {write(found.mean_b)} to {write(found.mean_a)}"


def interval_of(charted: Charted, found: WithinMeans) -> str:
    """``95 % interval of the drop 0.9 to 2.0 points``."""
    name, low, high = "rise", found.low, found.high
    if found.difference <= 0:
        name, low, high = "drop", -found.high, -found.low
    return f"95 % interval of the {name} {charted.made.result.write_range(low, high, change=True)}"


def change_sentence(charted: Charted, change: MarkedChange) -> str:
    """What a result did at a change, with the interval of the difference; no full stop."""
    sound = charted.sound_values(change)
    found = told_apart(charted, change, charted.values if sound is None else sound)
    since = f"({change.short} from build {change.number} on"
    if sound is not None:
        one = len(charted.leaky) == 1
        since += (
            f", without {'build' if one else 'builds'} {listed(charted.leaky)}, whose bag leaked"
        )
    since += ")"
    if found.difference == 0 and found.low == found.high:
        return f"{charted.subject} stayed at {charted.made.result.write(found.mean_a)} {since}"
    if not found.leaves_out_0:
        interval = charted.made.result.write_range(found.low, found.high, change=True)
        return (
            f"{charted.subject} went {levels(charted, found)} after build {change.last_before} "
            f"{since}, but the 95 % interval of the difference, {interval}, still allows for no "
            "change"
        )
    return (
        f"{charted.subject} {direction(found)} {levels(charted, found)} after build "
        f"{change.last_before}, {interval_of(charted, found)} {since}"
    )


def value_words(
    made: ResultValues,
    number: int,
    limits: tuple[float, float] | None,
    is_outside: bool,
) -> str:
    """One build in words: ``3.4 % (spread 3.1 to 3.8 %), above the upper limit 2.9 %``."""
    one = made.values.get(number)
    write = made.result.write
    if one is None:
        return "nothing noted"
    words = made.result.write_with_spread(one)
    if limits is None:
        return words
    if not is_outside:
        return words + ", within the limits"
    limit, side = (limits[1], "above the upper") if one.value > limits[1] else (limits[0], "")
    shown = write(limit)
    just = "just " if shown == write(one.value) else ""
    return f"{words}, {just}{side or 'below the lower'} limit {shown}"


def drift_sentence(charted: Charted, outside: Sequence[int], leaky: Sequence[int] = ()) -> str:
    """What the moving average says, given the indices at which it is outside.

    ``leaky`` are numbers of builds it leaves out, for their bag leaked.
    """
    but = f" (without {plural(len(leaky), 'build')} whose bag leaked)" if leaky else ""
    if not outside:
        return f"Small drifts{but}: none shows, the moving average stays within its limits."
    newest = max(i for i, value in enumerate(charted.values) if value is not None)
    first, last = charted.numbers[outside[0]], charted.numbers[outside[-1]]
    words = (
        f"Small drifts{but}: the moving average is outside its limits on "
        f"{plural(len(outside), 'build')}, first on build {first}"
    )
    if newest in outside:
        return f"{words}, and still on the newest: the level they rest on may no longer hold."
    return f"{words}, last on build {last}, and within them since."


def steps_sentence(charted: Charted, outside: Sequence[int]) -> str:
    """What the steps from build to build say, given the indices of the larger ones."""
    scale = "" if charted.turn is Turn.NONE else f", on {charted.turn.value}"
    if not outside:
        return f"Steps from build to build{scale}: none is larger than usual."
    return (
        f"Steps from build to build{scale}: {plural(len(outside), 'step')} larger than usual, "
        f"first at build {charted.numbers[outside[0]]}."
    )


def _none_counted(charted: Charted) -> str:
    """How many there may be all the same where none was counted: nothing found is not none."""
    result = charted.made.result
    if not result.is_count or any(charted.known):
        return ""
    size = sum(charted.made.values[n].size for n in charted.numbers if n in charted.made.values)
    ends = poisson_limits(0)
    return f", 95 % interval {result.write_range(0, ends.high / size)}"


def _outside(phases: Sequence[Phase]) -> str:
    number = sum(
        phase.chart.is_outside(i)
        for phase in phases
        if phase.chart
        for i in range(phase.stop - phase.start)
    )
    if not number:
        return ""
    return f"; {plural(number, 'build')} {'is' if number == 1 else 'are'} outside the limits"
