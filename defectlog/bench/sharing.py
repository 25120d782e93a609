"""Give out what the shop knows by itself, and take in what another shop knows."""

import secrets
from dataclasses import dataclass
from datetime import UTC, datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from defectlog.bench.kinds import library_of, steps_of
from defectlog.bench.knowledge import (
    Knowledge,
    SharedCause,
    SharedCount,
    SharedFix,
    SharedKind,
    SharedNote,
)
from defectlog.bench.knowledge import Shop as Giver
from defectlog.bench.parts import one_line, workshop_name
from defectlog.bench.tallies import causes_here, fixes_here
from defectlog.errors import NotFoundError
from defectlog.records import Counted, Elsewhere, HouseNote, OwnCause, OwnFix, OwnKind, Workshop


@dataclass(frozen=True, slots=True)
class GivenOut:
    """How much there is to give."""

    kinds: int
    causes: int
    fixes: int
    notes: int
    counts: int


def our_mark(session: Session) -> Giver:
    """This shop by the mark its files carry; made with the first file."""
    row = session.get(Workshop, 1)
    if row is None:
        row = Workshop(id=1, name=workshop_name(session))
        session.add(row)
    if not row.uid:
        row.uid = secrets.token_hex(12)
    session.flush()
    return Giver(row.uid, one_line(row.name))


def give_out(session: Session, *, at: datetime) -> Knowledge:
    """All that this shop knows by itself, and the kinds, causes and fixes it has from others.

    Counts are its own alone, so that no case is ever counted in two shops.
    """
    us = our_mark(session)
    kinds = session.scalars(select(OwnKind).order_by(OwnKind.id))
    causes = session.scalars(
        select(OwnCause).where(OwnCause.deleted_at.is_(None)).order_by(OwnCause.id)
    )
    fixes = session.scalars(select(OwnFix).where(OwnFix.deleted_at.is_(None)).order_by(OwnFix.id))
    notes = session.scalars(
        select(HouseNote)
        .where(HouseNote.deleted_at.is_(None), HouseNote.elsewhere_id.is_(None))
        .order_by(HouseNote.id)
    )
    return Knowledge(
        shop=us,
        exported_at=at.astimezone(UTC),
        kinds=tuple(_shared_kind(row, us) for row in kinds),
        causes=tuple(_shared_cause(row, us) for row in causes),
        fixes=tuple(_shared_fix(row, us) for row in fixes),
        notes=tuple(SharedNote(n.uid, n.kind, n.words, n.written_at) for n in notes),
        counts=counts_here(session),
    )


def counts_here(session: Session) -> tuple[SharedCount, ...]:
    """What was counted in this shop, of every kind there is."""
    made = []
    for kind in library_of(session).kinds:
        for about, tallies in (
            (Counted.CAUSE, causes_here(session, kind.key)),
            (Counted.FIX, fixes_here(session, kind.key)),
        ):
            made += [
                SharedCount(about, kind.key, key, tally.count, tally.cases)
                for key, tally in sorted(tallies.items())
            ]
    return tuple(made)


def to_give(session: Session) -> GivenOut:
    """How much a file would hold now; nothing is made or marked."""
    kinds = session.scalars(select(OwnKind.id)).all()
    causes = session.scalars(select(OwnCause.id).where(OwnCause.deleted_at.is_(None))).all()
    fixes = session.scalars(select(OwnFix.id).where(OwnFix.deleted_at.is_(None))).all()
    notes = session.scalars(
        select(HouseNote.id).where(HouseNote.deleted_at.is_(None), HouseNote.elsewhere_id.is_(None))
    ).all()
    return GivenOut(len(kinds), len(causes), len(fixes), len(notes), len(counts_here(session)))


def leave_counts_out(session: Session, number: int) -> Elsewhere:
    """Drop what a shop counted; its kinds, causes and notes stay. Its file can be taken again."""
    shop = session.get(Elsewhere, number)
    if shop is None or shop.exported_at is None:
        raise NotFoundError("shop", number)
    shop.counts.clear()
    shop.exported_at = None
    session.flush()
    return shop


def _shared_kind(row: OwnKind, us: Giver) -> SharedKind:
    return SharedKind(
        row.key,
        row.code,
        row.title,
        row.look,
        row.definition,
        _giver(row.elsewhere, us),
        tuple((question, tuple(given)) for question, given in (row.answers or {}).items()),
    )


def _shared_fix(row: OwnFix, us: Giver) -> SharedFix:
    return SharedFix(
        row.kind,
        row.key,
        row.title,
        row.outcome,
        tuple((step.do, step.cautions) for step in steps_of(row)),
        row.not_when,
        row.reinspect,
        row.time,
        _giver(row.elsewhere, us),
    )


def _shared_cause(row: OwnCause, us: Giver) -> SharedCause:
    return SharedCause(
        row.kind,
        row.key,
        row.title,
        row.why,
        row.check_do,
        row.check_positive,
        row.check_minutes,
        row.prevention,
        _giver(row.elsewhere, us),
    )


def _giver(elsewhere: Elsewhere | None, us: Giver) -> Giver:
    return Giver(elsewhere.uid, elsewhere.name) if elsewhere else us
