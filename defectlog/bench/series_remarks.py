"""What to look into, what limits rest on, and how a chart of any result is to be read."""

from defectlog.bench.results import ResultValues
from defectlog.bench.series_spread import spread_asides, spread_remarks
from defectlog.bench.series_words import (
    BASELINE,
    Charted,
    direction,
    interval_of,
    known,
    levels,
    listed,
    told_apart,
)
from defectlog.charts import Turn, change_point
from defectlog.charts.change import LEAST_FOR_LIMITS, LEAST_PER_PHASE
from defectlog.units import THIN, figure, plural, with_unit

# Limits from fewer builds still move a good deal with each new one.
FEW_FOR_LIMITS = 12
# A shift nobody marked is worth a word only when chance would hardly bring it about.
_RARE = 0.01
_LEAST_FOR_SEARCH = 10


def series_remarks(charted: Charted) -> tuple[str, ...]:
    """What else the builds say: that parts mix, what leaks hide, to wait, to look closer."""
    return (
        *_mixed(charted),
        *_leaks(charted),
        *_left_small(charted),
        *_waiting(charted),
        *_unmarked_shift(charted),
        *spread_remarks(charted),
    )


def limits_rest_on(charted: Charted) -> tuple[str, ...]:
    """The builds that set the limits, and the scale they were worked out on."""
    spans = []
    without: list[int] = []
    for phase in charted.phases:
        places = [i for i in charted.baseline if phase.start <= i < phase.stop]
        if phase.chart is None or not places:
            continue
        spans.append(f"{charted.numbers[places[0]]} to {charted.numbers[places[-1]]}")
        without += [
            charted.numbers[i]
            for i in range(places[0], places[-1])
            if i not in charted.baseline and charted.values[i] is not None
        ]
    if not spans:
        return ()
    but = [number for number in without if number in charted.leaks]
    said = [
        f"The limits rest on builds {' and '.join(spans)}: the first {BASELINE} of each stretch, "
        "or all while there are fewer"
        + (f", but for {listed(but)}, where the bag leaked" if but else "")
        + ". They are computed anew only where a marked change begins a new stretch."
    ]
    if charted.turn is not Turn.NONE:
        said.append(
            f"Values near zero are skewed, so the limits were worked out on {charted.turn.value} "
            "and turned back: they lie unevenly about the dashed line, which is lower than the "
            "mean."
        )
    if charted.gap is not None:
        said.append(
            f"{_many(charted.left_out)} older builds are not drawn: the chart has the first of "
            "the stretch, which set the limits, and the newest."
        )
    elif charted.left_out:
        said.append(
            f"{_many(charted.left_out)} older builds are not drawn, and none of the first of them "
            "has a value: the limits rest on the oldest drawn and move as builds are added."
        )
    return tuple(said)


def series_asides(charted: Charted) -> tuple[str, ...]:
    """What to know when reading the chart."""
    result = charted.made.result
    taken = charted.known
    if not taken:
        return ()
    said = []
    if len(charted.phases) > 1:
        said.append(
            "Builds before and after a change may differ in more than that: the interval is by "
            "t for two means, and only a trial can say what did it."
        )
    if len(taken) >= LEAST_FOR_LIMITS and any(one.chart is None for one in charted.phases):
        said.append(f"A stretch of fewer than {LEAST_FOR_LIMITS} builds carries no limits yet.")
    charts = [(one, one.chart) for one in charted.phases if one.chart]
    if any(len(known(charted.values[one.start : one.stop])) < FEW_FOR_LIMITS for one, _ in charts):
        said.append(
            f"Limits from fewer than {FEW_FOR_LIMITS} builds are a first guess and will move."
        )
    if result.is_count:
        size = "its inspected area" if result.per_area else "one build"
        said.append(
            f"A count for {size}: the limits allow for builds that differ more from each other "
            "than chance alone would have them (Laney’s chart), and are never narrower than chance."
        )
    if result.per_area:
        said.append("Every void the measurement found is counted, whatever its shape.")
    said += dict.fromkeys(note for _, chart in charts for note in chart.notes)
    said += spread_asides(charted)
    if result.of_surface:
        said.append(_what_stands(charted.made))
    missing = len(charted.values) - len(taken)
    if missing:
        said.append(
            f"{plural(missing, 'build')} in between {'is' if missing == 1 else 'are'} without "
            f"{result.rests_on} and {'leaves' if missing == 1 else 'leave'} a gap."
        )
    return tuple(said)


def _left_small(charted: Charted) -> list[str]:
    """Builds on which small voids were left out of what stands for them."""
    made = charted.made
    if not made.result.of_surface or made.result.key == "largest":
        return []
    least = {n: made.values[n].from_mm for n in charted.numbers if n in made.values}
    small = [number for number, mm in least.items() if mm]
    if not small:
        return []
    sizes = sorted({least[number] for number in small})
    from_words = " or ".join(with_unit(mm, "mm") for mm in sizes)
    if len(small) == len(least) and len(sizes) == 1:
        return [f"Only voids from {from_words} count here, on all of these builds."]
    return [
        f"On {'build' if len(small) == 1 else 'builds'} {listed(small)} only voids from "
        f"{from_words} count, as was asked when they were measured: measure their photos again "
        "without a smallest void to compare them with the others."
    ]


def _leaks(charted: Charted) -> list[str]:
    """Which bags leaked; and the comparison with their builds in, where the sentence has none."""
    leaky = charted.leaky
    if not leaky:
        return []
    one = len(leaky) == 1
    words = (
        f"On {'build' if one else 'builds'} {listed(leaky)} the bag leaked (drop test marginal or "
        "failed, or vacuum lost)."
    )
    change = charted.split
    if change is None or charted.sound_values(change) is None:
        return [words]
    found = told_apart(charted, change, charted.values)
    subject = charted.subject[0].lower() + charted.subject[1:]
    words += f" With {'it' if one else 'them'} in, {subject} "
    if found.leaves_out_0:
        return [
            f"{words}{direction(found)} {levels(charted, found)}, {interval_of(charted, found)}."
        ]
    ends = charted.made.result.write_range(found.low, found.high, change=True)
    return [
        f"{words}went {levels(charted, found)}; the 95 % interval of the difference, {ends}, "
        "allows for no change."
    ]


def _mixed(charted: Charted) -> list[str]:
    """That parts are charted together, and what is told of a change all the same."""
    number = len(set(charted.parts))
    if number < 2 or len(charted.known) < LEAST_FOR_LIMITS:
        return []
    words = (
        f"These builds are of {number} parts: averages and limits mix them, and another mix looks "
        "like a shift."
    )
    if charted.split is not None:
        words += (
            " What is said of the change compares each part with itself, as far as it was built "
            "twice or more before and after."
        )
    return [words]


def _waiting(charted: Charted) -> list[str]:
    """The newest change that has not seen enough builds, if that is all it lacks."""
    if not charted.changes or len(charted.known) < LEAST_FOR_LIMITS:
        return []
    newest, split = charted.changes[-1], charted.split
    since = len(known(charted.values[newest.index :]))
    if since >= LEAST_PER_PHASE or (split and not {*split.facts} & {*newest.facts}):
        return []
    more = LEAST_PER_PHASE - since
    return [
        f"{plural(since, 'build')} since build {newest.number} ({newest.short}): "
        f"{more} more, and the chart can say whether it changed anything."
    ]


def _unmarked_shift(charted: Charted) -> list[str]:
    said = []
    write = charted.made.result.write
    for phase in charted.phases:
        places = [i for i in range(phase.start, phase.stop) if charted.values[i] is not None]
        taken = [charted.values[i] for i in places]
        if len(places) < _LEAST_FOR_SEARCH or min(taken) == max(taken):
            continue
        found = change_point(taken)
        parts = len({charted.parts[i] for i in places}) if charted.parts else 1
        if found.p_value <= _RARE:
            said.append(
                f"The level seems to have shifted from {write(found.mean_before)} to "
                f"{write(found.mean_after)} with build {charted.numbers[places[found.index]]}, "
                f"where no change is marked; chance alone would show as much in "
                f"{figure(100 * found.p_value, 1)} % of cases. "
                + ("Another mix of parts, or what else?" if parts > 1 else "What was different?")
            )
    return said


def _what_stands(made: ResultValues) -> str:
    where = made.surface.words if made.surface else "surface"
    words = f"For each build stands the newest measurement of every photo of the {where}"
    if made.photos_each <= 1:
        return words + "."
    weight = "inspected area"
    if made.is_pooled_by_pixels:
        weight += " (in pixels on builds where a photo has no scale)"
    if made.result.key == "voids":
        return f"{words}; several photos are pooled by {weight}."
    return f"{words}, taken together."


def _many(number: int) -> str:
    return f"{number:,}".replace(",", THIN) if number >= 10_000 else str(number)
