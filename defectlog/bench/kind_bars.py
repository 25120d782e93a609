"""Which kinds of findings a set of builds had most, with intervals."""

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from defectlog.bench.build_sets import ChosenBuilds
from defectlog.bench.kinds import KindNames, names_of
from defectlog.charts import ParetoBar, pareto
from defectlog.records import Finding
from defectlog.units import percent, percent_range, plural

_FEW_FINDINGS = 5
# A page holds so many; the newest are the ones looked for.
_MOST_LISTED = 200


@dataclass(frozen=True, slots=True)
class KindBars:
    """Findings of some builds by kind, most frequent first, and the sentence above them."""

    sentence: str
    bars: tuple[ParetoBar, ...]
    total: int
    builds: int


def kind_bars(session: Session, chosen: ChosenBuilds) -> KindBars:
    """Findings of these builds counted by kind, whatever became of them."""
    rows = session.execute(
        select(Finding.kind, func.count())
        .where(Finding.build_id.in_(chosen.numbers), Finding.deleted_at.is_(None))
        .group_by(Finding.kind)
    )
    counts: dict[str, int] = {}
    for kind, number in rows:
        counts[kind] = number
    bars = pareto(counts)
    builds = len(chosen.made)
    sentence = _sentence(chosen.words, bars, builds, names_of(session))
    if chosen.older:
        sentence += f" Of the newest {plural(builds, 'build')}; older ones are not counted."
    return KindBars(sentence, bars, sum(counts.values()), builds)


def findings_of_kind(session: Session, chosen: ChosenBuilds, kind: str) -> list[Finding]:
    """The findings behind one bar, newest first, 200 at most."""
    return list(
        session.scalars(
            select(Finding)
            .where(
                Finding.build_id.in_(chosen.numbers),
                Finding.kind == kind,
                Finding.deleted_at.is_(None),
            )
            .order_by(Finding.id.desc())
            .limit(_MOST_LISTED)
        )
    )


def kind_table(counted: KindBars) -> list[list[object]]:
    """The numbers behind the bars, a heading row first; shares 0–1."""
    heading = ["kind", "count", "share", "share_low", "share_high", "running_share"]
    return [heading] + [
        [bar.key, bar.count, bar.share, bar.low, bar.high, bar.running] for bar in counted.bars
    ]


def _sentence(words: str, bars: Sequence[ParetoBar], builds: int, names: KindNames) -> str:
    if not builds:
        return f"No build to count findings on ({words})."
    if not bars:
        return f"No finding on {plural(builds, 'build')} ({words})."
    total = sum(bar.count for bar in bars)
    if total < _FEW_FINDINGS:
        return (
            f"{plural(total, 'finding')} on {plural(builds, 'build')} so far: too few to say "
            "which kind is the most frequent."
        )
    first = bars[0]
    said = (
        f"Most frequent: {names.title(first.key).lower()}, {first.count} of {total} findings, "
        f"{percent(first.share)}, 95 % interval {percent_range(first.low, first.high)}"
    )
    rivals = [names.title(bar.key).lower() for bar in bars[1:] if bar.high > first.low]
    if not rivals:
        return said + "."
    named = rivals[0] if len(rivals) == 1 else f"{rivals[0]} and {len(rivals) - 1} more"
    return f"{said}; {named} may be as frequent, going by the intervals."
