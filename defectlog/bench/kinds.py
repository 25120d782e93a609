"""Every kind the shop can speak of: those of the guide and its own, with its causes and fixes."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from sqlalchemy import select
from sqlalchemy.orm import Session

from defectlog.guide.entry import Cause, Fix, Kind
from defectlog.guide.library import Library, key_data
from defectlog.guide.own import (
    THIS_SHOP,
    OwnCheck,
    OwnStep,
    own_cause,
    own_fix,
    own_kind,
    with_own,
)
from defectlog.guide.signs import KeyData, with_shop
from defectlog.records import Elsewhere, OwnCause, OwnFix, OwnKind

_KEPT = "library"


@dataclass(frozen=True, slots=True)
class KindNames:
    """Titles and letters by key; a key that is nowhere any more is called by itself."""

    titles: dict[str, str] = field(default_factory=dict)
    codes: dict[str, str] = field(default_factory=dict)

    def title(self, key: str) -> str:
        return self.titles.get(key, key)

    def code(self, key: str) -> str:
        return self.codes.get(key, "??")


def library_of(session: Session) -> Library:
    """The guide with all that is the shop's own; read once for each session."""
    if _KEPT not in session.info:
        causes: dict[str, list[Cause]] = {}
        for row in _causes(session):
            causes.setdefault(row.kind, []).append(cause_entry(row))
        fixes: dict[str, list[Fix]] = {}
        for fix in _fixes(session):
            fixes.setdefault(fix.kind, []).append(fix_entry(fix))
        kinds = [kind_entry(row) for row in session.scalars(select(OwnKind).order_by(OwnKind.id))]
        session.info[_KEPT] = with_own(kinds, causes, fixes)
    library: Library = session.info[_KEPT]
    return library


def key_of(session: Session) -> tuple[tuple[Kind, ...], KeyData]:
    """The kinds that the key can lead to, and what it goes by, the shop's own kinds among them."""
    rows = session.scalars(select(OwnKind).where(OwnKind.answers.is_not(None)))
    data = with_shop(key_data(), {row.key: row.answers or {} for row in rows})
    return tuple(kind for kind in library_of(session).kinds if kind.key in data.signs), data


def forget_library(session: Session) -> None:
    """Read the library anew at the next look: something of the shop's own was changed."""
    session.info.pop(_KEPT, None)


def find_kind(session: Session, key: str) -> Kind:
    """The kind of this key, of the guide or the shop's own.

    Raises
    ------
    NotFoundError
        If there is no such kind.
    """
    return library_of(session).kind(key)


def names_of(session: Session) -> KindNames:
    """What every kind is called, and its two letters."""
    kinds = library_of(session).kinds
    return KindNames({k.key: k.title for k in kinds}, {k.key: k.code for k in kinds})


def cause_title(session: Session, kind: str, cause: str | None) -> str:
    """What a cause of a kind is called; a key that is nowhere any more is called by itself."""
    if not cause:
        return ""
    entry = library_of(session).find(kind)
    causes = entry.causes if entry else ()
    return next((one.title for one in causes if one.key == cause), cause)


def kind_entry(row: OwnKind) -> Kind:
    """An own kind as an entry, without its causes."""
    return own_kind(
        row.key,
        row.code,
        row.title,
        look=row.look,
        definition=row.definition,
        origin=origin_of(row.elsewhere),
    )


def cause_entry(row: OwnCause) -> Cause:
    """An own cause as an entry."""
    check = None
    if row.check_do and row.check_minutes:
        check = OwnCheck(row.check_do, row.check_positive, row.check_minutes)
    return own_cause(
        row.key,
        row.title,
        why=row.why,
        check=check,
        prevention=row.prevention,
        origin=origin_of(row.elsewhere),
    )


def fix_entry(row: OwnFix) -> Fix:
    """An own fix as an entry."""
    return own_fix(
        row.key,
        row.title,
        outcome=row.outcome,
        steps=steps_of(row),
        not_when=row.not_when.splitlines(),
        reinspect=row.reinspect.splitlines(),
        time=row.time,
        origin=origin_of(row.elsewhere),
    )


def steps_of(row: OwnFix) -> Sequence[OwnStep]:
    """The steps of an own fix as they were written down."""
    return tuple(OwnStep(step["do"], tuple(step["cautions"])) for step in row.steps)


def origin_of(elsewhere: Elsewhere | None) -> str:
    """Whose word it is."""
    return elsewhere.name if elsewhere else THIS_SHOP


def _causes(session: Session) -> Iterable[OwnCause]:
    return session.scalars(
        select(OwnCause).where(OwnCause.deleted_at.is_(None)).order_by(OwnCause.id)
    )


def _fixes(session: Session) -> Iterable[OwnFix]:
    return session.scalars(select(OwnFix).where(OwnFix.deleted_at.is_(None)).order_by(OwnFix.id))
