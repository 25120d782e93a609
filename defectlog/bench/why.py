"""Ask why: causes of a finding ranked from its build's facts and the shop's own cases."""

from collections import Counter
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from defectlog.guide import library
from defectlog.guide.ranked import Ranking
from defectlog.guide.ranking import History, rank
from defectlog.records import CauseVerdict, Finding


@dataclass(frozen=True, slots=True)
class Why:
    """The ranking for one finding, and what was already said of its causes."""

    ranking: Ranking
    verdicts: dict[str, CauseVerdict]
    own_cases: int


def why(session: Session, finding: Finding) -> Why:
    """Rank the causes of a finding.

    A cause ruled out on this part counts as if its checks had come out negative.
    """
    history = past_cases(session, finding)
    verdicts = {verdict.cause: verdict for verdict in finding.verdicts}
    entry = library.kind(finding.kind)
    refuted = {key for key, verdict in verdicts.items() if not verdict.is_confirmed}
    checked = {
        check.key: False for cause in entry.causes if cause.key in refuted for check in cause.checks
    }
    ranking = rank(entry, finding.build.known, history, checked=checked)
    return Why(ranking, verdicts, sum(history.confirmed.values()))


def past_cases(session: Session, finding: Finding) -> History:
    """What the shop found out on its other findings of the same kind."""
    rows = session.execute(
        select(CauseVerdict.cause, CauseVerdict.is_confirmed)
        .join(Finding)
        .where(
            Finding.kind == finding.kind,
            Finding.id != finding.id,
            Finding.deleted_at.is_(None),
        )
    ).all()
    return History(
        confirmed=Counter(cause for cause, confirmed in rows if confirmed),
        refuted=Counter(cause for cause, confirmed in rows if not confirmed),
    )
