"""Ask why: causes of a finding ranked from its build's facts, its checks and the shop's cases."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session, selectinload

from defectlog.bench.checks import results_of
from defectlog.bench.kinds import find_kind
from defectlog.guide.ranked import Ranking
from defectlog.guide.ranking import History, rank
from defectlog.records import CauseVerdict, CheckDone, Finding


@dataclass(frozen=True, slots=True)
class Why:
    """The ranking for one finding, and what was already said of its causes and checks."""

    ranking: Ranking
    verdicts: dict[str, CauseVerdict]
    checks: dict[str, CheckDone]


def why(session: Session, finding: Finding) -> Why:
    """Rank the causes of a finding.

    Results of checks move the shares by their chances. A cause that was ruled out on this part
    keeps no share, whatever its checks said.
    """
    history = past_cases(session, finding)
    verdicts = {verdict.cause: verdict for verdict in finding.verdicts}
    results = results_of(session, finding)
    ranking = rank(
        find_kind(session, finding.kind),
        finding.build.known,
        history,
        checked={key: row.is_positive for key, row in results.items()},
        ruled_out=[key for key, verdict in verdicts.items() if not verdict.is_confirmed],
    )
    return Why(ranking, verdicts, results)


def past_cases(session: Session, finding: Finding) -> History:
    """What the shop found out on its other findings of the same kind."""
    return cases_of(session, finding.kind, but=finding)


def cases_of(session: Session, kind: str, *, but: Finding | None = None) -> History:
    """What the shop found out on its findings of a kind, leaving one out if it is named."""
    query = (
        select(Finding)
        .where(Finding.kind == kind, Finding.deleted_at.is_(None), Finding.verdicts.any())
        .options(selectinload(Finding.verdicts))
    )
    if but is not None:
        query = query.where(Finding.id != but.id)
    return history_of(session.scalars(query))


def history_of(findings: Iterable[Finding]) -> History:
    """Cases by cause: a finding counts once, for the cause confirmed on it.

    Where none was confirmed, it counts for what was ruled out on it.
    """
    confirmed: Counter[str] = Counter()
    refuted: Counter[str] = Counter()
    for finding in findings:
        cause = finding.confirmed_cause
        if cause is not None:
            confirmed[cause] += 1
        else:
            refuted.update(verdict.cause for verdict in finding.verdicts)
    return History(confirmed, refuted)
