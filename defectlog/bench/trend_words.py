"""What a trend shows, in sentences: with its interval, or that there is not enough yet to say."""

from collections.abc import Collection, Sequence

from defectlog.bench.kinds import KindNames
from defectlog.bench.marked_changes import MarkedChange
from defectlog.bench.surface_voids import Surface, SurfaceVoids
from defectlog.charts import (
    Comparison,
    ParetoBar,
    Phase,
    change_point,
    compare,
    mean_interval,
)
from defectlog.charts.change import LEAST_FOR_LIMITS, LEAST_PER_PHASE
from defectlog.units import figure, measured_percent, percent, percent_range, plural

# Limits from fewer builds still move a good deal with each new one.
FEW_FOR_LIMITS = 12
# A shift nobody marked is worth a word only when chance would hardly bring it about.
_RARE = 0.01
_LEAST_FOR_SEARCH = 10
_FEW_FINDINGS = 5


def void_sentence(
    part: str,
    surface: Surface | None,
    values: Sequence[float | None],
    phases: Sequence[Phase],
    changes: Sequence[MarkedChange],
) -> str:
    """The one sentence above the chart of voids."""
    known = [value for value in values if value is not None]
    if surface is None:
        return f"No build of {part} has a void measurement yet."
    if len(known) < LEAST_FOR_LIMITS:
        more = LEAST_FOR_LIMITS - len(known)
        return (
            f"{plural(len(known), 'build')} measured so far, mean "
            f"{measured_percent(sum(known) / len(known))}: not enough to say what is usual. "
            f"{plural(more, 'more build')}, and limits can be drawn."
        )
    told = _split(phases, changes)
    if told is not None:
        return _before_and_after(values, phases, told)
    return _steady(known, phases)


def _split(phases: Sequence[Phase], changes: Sequence[MarkedChange]) -> MarkedChange | None:
    """The newest change at which the limits were computed anew."""
    starts = {phase.start for phase in phases[1:]}
    return next((change for change in reversed(changes) if change.index in starts), None)


def _before_and_after(
    values: Sequence[float | None], phases: Sequence[Phase], change: MarkedChange
) -> str:
    found = _compare_around(change, values, phases)
    levels = _levels(found)
    since = f"{change.short} from build {change.number} on"
    if not found.is_clear:
        return (
            f"Void fraction went {levels} after build {change.last_before} ({since}), but the "
            f"95 % interval of the difference, {_points(-found.high, -found.low)}, still "
            f"allows for no change{_outside_words(phases)}."
        )
    verb, _ = _direction(found)
    return (
        f"Void fraction {verb} {levels} after build {change.last_before}, "
        f"{_interval_words(found)} ({since}){_outside_words(phases)}."
    )


def _compare_around(
    change: MarkedChange, values: Sequence[float | None], phases: Sequence[Phase]
) -> Comparison:
    before = next(phase for phase in phases if phase.stop == change.index)
    after = next(phase for phase in phases if phase.start == change.index)
    return compare(_known(values, before), _known(values, after))


def _direction(found: Comparison) -> tuple[str, str]:
    return ("fell", "drop") if found.difference > 0 else ("rose", "rise")


def _levels(found: Comparison) -> str:
    return f"from {measured_percent(found.mean_a)} to {measured_percent(found.mean_b)}"


def _interval_words(found: Comparison) -> str:
    low, high = (found.low, found.high)
    if found.difference <= 0:
        low, high = -high, -low
    return f"95 % interval of the {_direction(found)[1]} {_points(low, high)}"


def _steady(known: Sequence[float], phases: Sequence[Phase]) -> str:
    mean = measured_percent(sum(known) / len(known))
    words = f"Void fraction averages {mean} over {len(known)} builds"
    interval = mean_interval(known)
    if interval is not None:
        words += (
            f", 95 % interval of the mean {percent_range(max(0.0, interval.low), interval.high)}"
        )
    if all(phase.chart is None for phase in phases):
        return words + "; too few of them follow each other for limits."
    return words + (_outside_words(phases) or "; no build is outside the limits") + "."


def _outside_words(phases: Sequence[Phase]) -> str:
    number = sum(len(phase.chart.signals) for phase in phases if phase.chart)
    if not number:
        return ""
    return f"; {plural(number, 'build')} {'is' if number == 1 else 'are'} outside the limits"


def remarks(
    numbers: Sequence[int],
    values: Sequence[float | None],
    phases: Sequence[Phase],
    changes: Sequence[MarkedChange],
    leaks: Collection[int] = (),
) -> tuple[str, ...]:
    """What else the builds say: what leaks hide, to wait for more, to look into a shift."""
    return (
        *_without_leaks(numbers, values, phases, changes, leaks),
        *_waiting(values, phases, changes),
        *_unmarked_shift(numbers, values, phases),
    )


def _without_leaks(
    numbers: Sequence[int],
    values: Sequence[float | None],
    phases: Sequence[Phase],
    changes: Sequence[MarkedChange],
    leaks: Collection[int],
) -> list[str]:
    """The comparison once more without the builds whose bag leaked, if enough are left."""
    leaky = [n for n, v in zip(numbers, values, strict=True) if n in leaks and v is not None]
    change = _split(phases, changes)
    if not leaky or change is None:
        return []
    sound = [None if n in leaks else v for n, v in zip(numbers, values, strict=True)]
    if any(len(_known(sound, phase)) < LEAST_PER_PHASE for phase in phases):
        return []
    found = _compare_around(change, sound, phases)
    named = ", ".join(map(str, leaky[:-1])) + (" and " if leaky[1:] else "") + str(leaky[-1])
    words = (
        f"On {'build' if len(leaky) == 1 else 'builds'} {named} the bag leaked (drop test marginal "
        "or failed, or vacuum lost). "
        f"Leaving {'it' if len(leaky) == 1 else 'them'} out, void fraction "
        f"{_direction(found)[0]} {_levels(found)}, {_interval_words(found)}"
    )
    return [words + ("." if found.is_clear else ": still no change shown.")]


def asides(
    surface: Surface, voids: Sequence[SurfaceVoids | None], phases: Sequence[Phase]
) -> tuple[str, ...]:
    """What to know when reading the chart."""
    values = [made.value if made else None for made in voids]
    known = [made for made in voids if made is not None]
    said = []
    if len(phases) > 1:
        said.append(
            "Builds before and after a change may differ in more than that: the interval is "
            "Welch’s for two means, and only a trial can say what did it."
        )
    if len(known) >= LEAST_FOR_LIMITS and any(phase.chart is None for phase in phases):
        said.append(f"A stretch of fewer than {LEAST_FOR_LIMITS} builds carries no limits yet.")
    if any(phase.chart and len(_known(values, phase)) < FEW_FOR_LIMITS for phase in phases):
        said.append(
            f"Limits from fewer than {FEW_FOR_LIMITS} builds are a first guess and will move."
        )
    for note in dict.fromkeys(
        note for phase in phases if phase.chart for note in phase.chart.notes
    ):
        said.append(note)
    said.append(_what_stands(surface, known))
    missing = len(voids) - len(known)
    if missing:
        said.append(
            f"{plural(missing, 'build')} in between {'has' if missing == 1 else 'have'} no "
            f"measurement of this surface and {'leaves' if missing == 1 else 'leave'} a gap."
        )
    return tuple(said)


def _waiting(
    values: Sequence[float | None], phases: Sequence[Phase], changes: Sequence[MarkedChange]
) -> list[str]:
    """The newest change that has not seen enough builds, if that is all it lacks."""
    if not changes or sum(value is not None for value in values) < LEAST_FOR_LIMITS:
        return []
    newest = changes[-1]
    since = sum(value is not None for value in values[newest.index :])
    split = _split(phases, changes)
    if since >= LEAST_PER_PHASE or (split and not {*split.facts} & {*newest.facts}):
        return []
    more = LEAST_PER_PHASE - since
    return [
        f"{plural(since, 'build')} measured since build {newest.number} ({newest.short}): "
        f"{more} more, and the chart can say whether it changed anything."
    ]


def _unmarked_shift(
    numbers: Sequence[int], values: Sequence[float | None], phases: Sequence[Phase]
) -> list[str]:
    said = []
    for phase in phases:
        places = [i for i in range(phase.start, phase.stop) if values[i] is not None]
        if len(places) < _LEAST_FOR_SEARCH:
            continue
        found = change_point([values[i] for i in places])
        if found.p_value <= _RARE:
            said.append(
                f"The level seems to have shifted from {measured_percent(found.mean_before)} to "
                f"{measured_percent(found.mean_after)} with build {numbers[places[found.index]]}, "
                f"where no change is marked; chance alone would show as much in "
                f"{figure(100 * found.p_value, 1)} % of cases. What was different?"
            )
    return said


def _what_stands(surface: Surface, known: Sequence[SurfaceVoids]) -> str:
    words = f"For each build stands the newest measurement of every photo of the {surface.words}"
    if all(made.photos == 1 for made in known):
        return words + "."
    weight = "inspected area"
    if any(made.inspected_mm2 is None for made in known):
        weight += " (in pixels on builds where a photo has no scale)"
    return f"{words}; several photos are pooled by {weight}."


def point_words(
    made: SurfaceVoids | None,
    limits: tuple[float, float] | None,
    is_outside: bool,
    has_leaked: bool = False,
) -> str:
    """One build in words: ``3.4 % (3.1 to 3.8 %), above the upper limit 2.9 %``."""
    if made is None:
        return "not measured"
    words = f"{measured_percent(made.value)} ({percent_range(made.low, made.high)})"
    if limits is not None and not is_outside:
        words += ", within the limits"
    elif limits is not None and made.value > limits[1]:
        words += f", above the upper limit {measured_percent(limits[1])}"
    elif limits is not None:
        words += f", below the lower limit {measured_percent(limits[0])}"
    return words + ("; the bag leaked" if has_leaked else "")


def finding_sentence(part: str, bars: Sequence[ParetoBar], builds: int, names: KindNames) -> str:
    """The one sentence above the bars."""
    if not bars:
        return f"No finding on {plural(builds, 'build')} of {part}."
    total = sum(bar.count for bar in bars)
    if total < _FEW_FINDINGS:
        return (
            f"{plural(total, 'finding')} on {plural(builds, 'build')} so far: too few to say "
            "which kind is the most frequent."
        )
    first = bars[0]
    words = (
        f"Most frequent: {names.title(first.key).lower()}, {first.count} of {total} findings, "
        f"{percent(first.share)}, 95 % interval {percent_range(first.low, first.high)}"
    )
    rivals = [names.title(bar.key).lower() for bar in bars[1:] if bar.high > first.low]
    if not rivals:
        return words + "."
    named = rivals[0] if len(rivals) == 1 else f"{rivals[0]} and {len(rivals) - 1} more"
    return f"{words}; {named} may be as frequent, going by the intervals."


def _known(values: Sequence[float | None], phase: Phase) -> list[float]:
    return [value for value in values[phase.start : phase.stop] if value is not None]


def _points(low: float, high: float) -> str:
    """An interval of a difference of fractions, in percentage points: ``0.9 to 2.0 points``."""
    largest = 100 * max(abs(low), abs(high))
    places = 0 if largest >= 10 else 1 if largest >= 1 else 2
    return f"{100 * low:.{places}f} to {100 * high:.{places}f} points".replace(
        "-", "\N{MINUS SIGN}"
    )
