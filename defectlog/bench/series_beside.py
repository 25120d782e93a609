"""What else changed where a series has its newest change: a gain here may cost something there."""

from dataclasses import dataclass, replace

from sqlalchemy.orm import Session

from defectlog.bench.build_sets import ChosenBuilds
from defectlog.bench.results import RESULTS, Result, result_values
from defectlog.bench.series_words import Charted, change_sentence
from defectlog.charts.change import LEAST_PER_PHASE

# Looked at beside any other result: how sound a part is, what it weighs and what it takes.
_ALWAYS = ("voids", "mass", "resin-left", "effort")


@dataclass(frozen=True, slots=True)
class Beside:
    """Another result across the same change, in one sentence with its interval."""

    result: Result
    sentence: str


def beside(session: Session, charted: Charted, chosen: ChosenBuilds) -> tuple[Beside, ...]:
    """Voids, mass, resin left over and working time across the newest change that moved the limits.

    Only those with at least four builds on either side; none if no change moved the limits.
    """
    change = charted.split
    if change is None:
        return ()
    said = []
    for key in _ALWAYS:
        if key == charted.made.result.key:
            continue
        made = result_values(session, RESULTS[key], chosen)
        values = tuple(made.values[n].value if n in made.values else None for n in charted.numbers)
        other = replace(charted, made=made, values=values)
        sides = [phase for phase in other.phases if change.index in (phase.start, phase.stop)]
        counts = [
            sum(value is not None for value in values[phase.start : phase.stop]) for phase in sides
        ]
        if min(counts) >= LEAST_PER_PHASE:
            said.append(Beside(RESULTS[key], change_sentence(other, change) + "."))
    return tuple(said)
