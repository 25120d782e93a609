"""Forget another shop: all that came from it goes in one step, but for what was found out here."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TypeVar

from sqlalchemy import select
from sqlalchemy.orm import Session

from defectlog.bench.kinds import forget_library
from defectlog.bench.knowledge import how_many
from defectlog.errors import NotFoundError
from defectlog.records import (
    CauseVerdict,
    CheckDone,
    Elsewhere,
    ElsewhereCount,
    Finding,
    FixDone,
    HouseNote,
    Lesson,
    Limit,
    OwnCause,
    OwnFix,
    OwnKind,
    Trial,
)

T = TypeVar("T", OwnKind, OwnCause, OwnFix, HouseNote)


@dataclass(frozen=True, slots=True)
class Going:
    """What of one shop goes, and what stays because it was used here.

    ``stays`` are the titles of kinds, causes and fixes that findings, limits or notes of this
    shop speak of.
    """

    shop: Elsewhere
    kinds: list[OwnKind]
    causes: list[OwnCause]
    fixes: list[OwnFix]
    notes: list[HouseNote]
    counts: int
    stays: list[str]

    @property
    def is_nothing(self) -> bool:
        return not (self.kinds or self.causes or self.fixes or self.notes or self.counts)

    @property
    def words(self) -> str:
        """``1 kind, 2 causes and 3 counts``; ``nothing`` if there is nothing."""
        causes, fixes, notes = len(self.causes), len(self.fixes), len(self.notes)
        said = how_many(len(self.kinds), causes, fixes, notes, self.counts)
        return " and ".join(filter(None, (", ".join(said[:-1]), *said[-1:]))) or "nothing"


def shops_here(session: Session) -> list[Elsewhere]:
    """Every shop that something here came from, by its own file or through another's."""
    shops = session.scalars(select(Elsewhere))
    held = (
        shop
        for shop in shops
        if shop.exported_at is not None or not what_goes(session, shop.id).is_nothing
    )
    return sorted(held, key=lambda shop: shop.name.casefold())


def what_goes(session: Session, number: int) -> Going:
    """What would go if all of a shop were removed, and what would stay.

    Raises
    ------
    NotFoundError
        If nothing ever came from such a shop.
    """
    shop = session.get(Elsewhere, number)
    if shop is None:
        raise NotFoundError("shop", number)
    causes, used_causes = _parted(session, _of(session, OwnCause, shop), _is_judged)
    fixes, used_fixes = _parted(session, _of(session, OwnFix, shop), _is_done)
    notes = _of(session, HouseNote, shop)
    under = {(type(row), row.id) for row in (*causes, *fixes, *notes)}
    kinds, used_kinds = [], []
    for kind in _of(session, OwnKind, shop):
        (used_kinds if _is_spoken_of(session, kind, under) else kinds).append(kind)
    stays = [row.title for row in (*used_kinds, *used_causes, *used_fixes)]
    return Going(shop, kinds, causes, fixes, notes, len(shop.counts), stays)


def forget_shop(session: Session, number: int) -> Going:
    """Remove all that came from a shop. Taking its file in again brings it back.

    What was confirmed here stays, with the kind, cause or fix it speaks of.
    """
    going = what_goes(session, number)
    for row in (*going.causes, *going.fixes, *going.notes, *going.kinds):
        session.delete(row)
    going.shop.counts.clear()
    # An older file of it is as good as a new one now.
    going.shop.exported_at = None
    session.flush()
    if not going.stays:
        session.delete(going.shop)
        session.flush()
    forget_library(session)
    return going


def _of(session: Session, table: type[T], shop: Elsewhere) -> list[T]:
    """All rows of a shop, those deleted here among them."""
    query = select(table).where(table.elsewhere_id == shop.id).order_by(table.id)
    return list(session.scalars(query))


def _parted(
    session: Session, rows: Iterable[T], is_used: Callable[[Session, T], bool]
) -> tuple[list[T], list[T]]:
    """Those that nobody here used, and those that somebody did."""
    unused: list[T] = []
    used: list[T] = []
    for row in rows:
        (used if is_used(session, row) else unused).append(row)
    return unused, used


def _is_judged(session: Session, cause: OwnCause) -> bool:
    """Whether the cause, or its check, was answered on a finding here, or a lesson names it."""
    if session.scalar(select(Lesson.id).where(Lesson.cause == cause.key).limit(1)) is not None:
        return True
    judged = select(CauseVerdict.id).join(Finding).where(CauseVerdict.cause == cause.key)
    checked = select(CheckDone.id).join(Finding).where(CheckDone.check_key == cause.key)
    return any(
        session.scalar(query.where(Finding.kind == cause.kind).limit(1)) is not None
        for query in (judged, checked)
    )


def _is_done(session: Session, fix: OwnFix) -> bool:
    done = select(FixDone.id).where(FixDone.fix_key == fix.key).limit(1)
    return session.scalar(done) is not None


def _is_spoken_of(session: Session, kind: OwnKind, going: set[tuple[type, int]]) -> bool:
    """Whether anything but what is going names the kind."""
    for table in (Finding, Limit, Trial, ElsewhereCount):
        others = select(table.id).where(table.kind == kind.key)
        if table is ElsewhereCount:
            others = others.where(ElsewhereCount.elsewhere_id != kind.elsewhere_id)
        if session.scalar(others.limit(1)) is not None:
            return True
    return any(
        (table, number) not in going
        for table in (OwnCause, OwnFix, HouseNote)
        for number in session.scalars(select(table.id).where(table.kind == kind.key))
    )
