"""What the spread across each surface says of a series: beside its builds, and of their scatter."""

from collections import defaultdict

from defectlog.bench.series_words import Charted
from defectlog.charts import TooFewValuesError, WithinShare, within_share
from defectlog.measure.arrays.student import student_quantile
from defectlog.measure.figures.fraction import FIELDS
from defectlog.units import percent, percent_range

# Of fewer builds the share is known so badly that nothing follows from it.
_LEAST_FREEDOM = 5
# From this share on, knowing each surface better would narrow the limits more than anything else.
_MUCH = 0.5
# A spread reaches so many standard errors, by t of the fields that a photo is cut into.
_REACH = student_quantile(FIELDS[0] * FIELDS[1] - 1)


def spread_remarks(charted: Charted) -> list[str]:
    """That each surface is known too badly to tell the builds apart, where that is so."""
    share = _share(charted)
    if share is None or share.value < _MUCH or share.high < 1:
        return []
    return [
        "The builds differ hardly more than pieces of one of their surfaces do: these make up "
        f"{_words(share)} of the variance from build to build. Photograph more of each part, if "
        "there is more of it, before you look for causes in how they were made."
    ]


def spread_asides(charted: Charted) -> list[str]:
    """What the spread behind each figure is, and that hardly any of the scatter is due to it."""
    if all(one.low is None for one in charted.made.values.values()):
        return []
    said = [
        "The spread behind each figure is what another piece of the same surface might show (field "
        "to field, 95 %), joined in root-sum-square with the measuring interval. The limits need "
        "none of it: the scatter from build to build that they rest on holds it already."
    ]
    share = _share(charted)
    if share is not None and share.high < _MUCH:
        said.append(
            f"What pieces of one surface differ by makes up {_words(share)} of the variance from "
            "build to build: the rest is how the builds came out, and more photos of each part "
            "would narrow the limits little."
        )
    return said


def _share(charted: Charted) -> WithinShare | None:
    """How much of the scatter is within surfaces, of builds of one part and one stretch."""
    groups: dict[tuple[int, int], list[float]] = defaultdict(list)
    errors: dict[tuple[int, int], list[float]] = defaultdict(list)
    for stretch, phase in enumerate(charted.phases):
        for index in range(phase.start, phase.stop):
            number = charted.numbers[index]
            one = charted.made.values.get(number)
            if one is None or one.spread is None or number in charted.leaks:
                continue
            key = stretch, charted.parts[index] if charted.parts else 0
            groups[key].append(one.value)
            errors[key].append(one.spread / _REACH)
    try:
        share = within_share(list(groups.values()), list(errors.values()))
    except TooFewValuesError:
        return None
    return share if share.freedom >= _LEAST_FREEDOM else None


def _words(share: WithinShare) -> str:
    low, high = (min(end, 1.0) for end in (share.low, share.high))
    return f"{percent(min(share.value, 1.0))} (95 % interval {percent_range(low, high)})"
