"""How often: causes confirmed and fixes that held, in this shop and, kept apart, elsewhere."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field

from sqlalchemy import select
from sqlalchemy.orm import Session, selectinload

from defectlog.bench.why import cases_of
from defectlog.charts.intervals import wilson
from defectlog.records import Counted, ElsewhereCount, Finding, FixDone, FixResult
from defectlog.units import percent_range

LEAST_FOR_INTERVAL = 3
OTHER_FIX = ""  # stands for all that was done and is no fix of the guide


@dataclass(frozen=True, slots=True)
class Tally:
    """``count`` of ``cases``, in another shop if ``place`` names it."""

    count: int
    cases: int
    place: str = ""

    @property
    def words(self) -> str:
        """``here: 4 of 5 times (95 % interval 38 to 96 %)``, the interval from 3 cases on."""
        times = "time" if self.cases == 1 else "times"
        words = f"{'elsewhere' if self.place else 'here'}: {self.count} of {self.cases} {times}"
        ends = wilson(self.count, self.cases) if self.cases >= LEAST_FOR_INTERVAL else None
        if ends is not None:
            words += f" (95 % interval {percent_range(*ends)})"
        return f"{words}, at {self.place}" if self.place else words


Tallied = Mapping[str, tuple[Tally, ...]]


@dataclass(frozen=True, slots=True)
class Tallies:
    """Tallies of one kind, by key of the cause or the fix; this shop's own come first.

    Causes are counted among the findings with a confirmed cause, fixes among those that were
    looked at again.
    """

    causes: Tallied = field(default_factory=dict)
    fixes: Tallied = field(default_factory=dict)


def tallies_of(session: Session, kind: str) -> Tallies:
    """What was counted of a kind, here and elsewhere."""
    causes = {key: [tally] for key, tally in causes_here(session, kind).items()}
    fixes = {key: [tally] for key, tally in fixes_here(session, kind).items()}
    for row in _elsewhere(session, kind):
        held = causes if row.about is Counted.CAUSE else fixes
        held.setdefault(row.key, []).append(Tally(row.count, row.cases, row.elsewhere.name))
    return Tallies(
        {key: tuple(rows) for key, rows in causes.items()},
        {key: tuple(rows) for key, rows in fixes.items()},
    )


def causes_here(session: Session, kind: str) -> dict[str, Tally]:
    """Every cause ever confirmed for a kind, of all its findings with a confirmed cause."""
    confirmed = cases_of(session, kind).confirmed
    cases = sum(confirmed.values())
    return {key: Tally(count, cases) for key, count in confirmed.items()}


def fixes_here(session: Session, kind: str) -> dict[str, Tally]:
    """Every fix that was looked at again, and how often it had held."""
    rows = session.execute(
        select(FixDone.fix_key, FixDone.result)
        .join(Finding)
        .where(
            Finding.kind == kind,
            Finding.deleted_at.is_(None),
            FixDone.result.is_not(None),
        )
    ).all()
    cases = Counter(key or OTHER_FIX for key, _ in rows)
    held = Counter(key or OTHER_FIX for key, result in rows if result is FixResult.HELD)
    return {key: Tally(held[key], count) for key, count in cases.items()}


def _elsewhere(session: Session, kind: str) -> list[ElsewhereCount]:
    return list(
        session.scalars(
            select(ElsewhereCount)
            .where(ElsewhereCount.kind == kind)
            .options(selectinload(ElsewhereCount.elsewhere))
            .order_by(ElsewhereCount.id)
        )
    )
