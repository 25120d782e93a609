"""Kinds of the shop's own: written down, changed, and removed while nothing is of that kind."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from itertools import product
from string import ascii_uppercase

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from defectlog.bench.kinds import forget_library, library_of
from defectlog.bench.own_words import (
    own_key,
    see_ours_unchanged,
    text_faults,
    tidy,
    title_faults,
)
from defectlog.bench.parts import one_line
from defectlog.errors import DefectlogError, FieldError, FormError, NotFoundError
from defectlog.guide import library
from defectlog.records import Finding, HouseNote, Limit, OwnCause, OwnFix, OwnKind
from defectlog.units import plural

LONGEST_TITLE = 60


@dataclass(frozen=True, slots=True)
class OwnKindPlan:
    """What a person enters of a kind. The two letters stay once they are given.

    ``answers`` are those to the questions of the key that are usual for it, by question; what is
    left out says nothing.
    """

    title: str
    code: str
    look: str
    definition: str
    answers: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


class KindInUseError(DefectlogError):
    """A kind is removed only while nothing hangs on it."""

    def __init__(self, title: str, uses: str) -> None:
        super().__init__(
            f"{title} cannot be removed while it has {uses}",
            "give that another kind, or delete it, first",
        )


class NoLettersError(DefectlogError):
    """Every pair of letters stands for a kind."""

    def __init__(self) -> None:
        super().__init__(
            "All pairs of letters are taken by kinds",
            "remove one that nothing is of; nothing was changed",
        )


def find_own_kind(session: Session, key: str) -> OwnKind:
    """The own kind of this key."""
    row = session.scalar(select(OwnKind).where(OwnKind.key == key))
    if row is None:
        raise NotFoundError("kind of this shop's own", key)
    return row


def save_own_kind(
    session: Session,
    plan: OwnKindPlan,
    *,
    at: datetime,
    key: str | None = None,
    opened_on: str = "",
) -> OwnKind:
    """Write a new kind down, or change the one of that key.

    Raises
    ------
    FormError
        If something is missing or too long, or title or letters are taken by another kind.
    NotOursError
        If the kind came from another shop.
    ChangedMeanwhileError
        If it is not as the form was opened on (``own_words.state_of``).
    """
    row = None if key is None else find_own_kind(session, key)
    if row is not None:
        see_ours_unchanged(row, opened_on, "title", "kind")
    faults = list(_faults(session, plan, row))
    if faults:
        raise FormError(faults)
    if row is None:
        row = OwnKind(key=own_key(plan.title), code=_letters(plan.code), written_at=at)
        session.add(row)
    row.title = one_line(plan.title)
    row.look, row.definition = tidy(plan.look), tidy(plan.definition)
    row.answers = {name: list(given) for name, given in plan.answers.items() if given} or None
    session.flush()
    forget_library(session)
    return row


def remove_own_kind(session: Session, key: str) -> str:
    """Remove a kind that nothing is of, with what was deleted under it; gives its title.

    Raises
    ------
    KindInUseError
        If there are findings, limits, causes, fixes or notes of that kind.
    """
    row = find_own_kind(session, key)
    uses = _uses(session, key)
    if uses:
        raise KindInUseError(row.title, uses)
    for table in (OwnCause, OwnFix, HouseNote):
        for deleted in session.scalars(select(table).where(table.kind == key)):
            session.delete(deleted)
    session.delete(row)
    session.flush()
    forget_library(session)
    return row.title


def free_code(session: Session, wanted: str) -> str:
    """The letters wanted, or if another kind has them the next that are free.

    Raises
    ------
    NoLettersError
        If there are as many kinds as pairs of letters.
    """
    taken = {kind.code for kind in library_of(session).kinds}
    pairs = ["".join(pair) for pair in product(ascii_uppercase, repeat=2)]
    start = pairs.index(wanted)
    free = next((code for code in pairs[start:] + pairs[:start] if code not in taken), None)
    if free is None:
        raise NoLettersError
    return free


def is_code(text: str) -> bool:
    """Whether a text is two capital letters."""
    return len(text) == 2 and all(letter in ascii_uppercase for letter in text)


def _letters(code: str) -> str:
    return code.strip().upper()


def _faults(session: Session, plan: OwnKindPlan, row: OwnKind | None) -> Iterator[FieldError]:
    yield from title_faults("title", "name", plan.title, LONGEST_TITLE)
    others = [k for k in library_of(session).kinds if row is None or k.key != row.key]
    title = one_line(plan.title).casefold()
    if any(other.title.casefold() == title for other in others):
        yield FieldError(
            "title", f"There is a kind called {one_line(plan.title)} already", "call it otherwise"
        )
    if row is None:
        code = _letters(plan.code)
        owner = next((other for other in others if other.code == code), None)
        if not is_code(code):
            yield FieldError(
                "code", "A kind goes by two letters on photos", "enter two letters, A to Z"
            )
        elif owner is not None:
            yield FieldError(
                "code",
                f"{code} stands for {owner.title} already",
                f"take two others, such as {free_code(session, code)}",
            )
    needed = "say in a sentence how it looks to somebody who has not met it"
    yield from text_faults("look", "look", plan.look, needed=needed)
    needed = "say in a sentence what it is"
    yield from text_faults("definition", "definition", plan.definition, needed=needed)
    if not _in_key(plan.answers):
        what = "An answer is not one of the key's"
        yield FieldError("answers", what, "choose among those shown")


def _in_key(answers: Mapping[str, tuple[str, ...]]) -> bool:
    known = {
        (question.key, answer.key)
        for question in library.key_data().questions
        for answer in question.answers
    }
    return all((name, one) in known for name, given in answers.items() for one in given)


def _uses(session: Session, key: str) -> str:
    counted = (
        (Finding.id, "finding", "", (Finding.kind == key, Finding.deleted_at.is_(None))),
        (Limit.id, "limit", "", (Limit.kind == key,)),
        (OwnCause.id, "cause", "", (OwnCause.kind == key, OwnCause.deleted_at.is_(None))),
        (OwnFix.id, "fix", "fixes", (OwnFix.kind == key, OwnFix.deleted_at.is_(None))),
        (HouseNote.id, "note", "", (HouseNote.kind == key, HouseNote.deleted_at.is_(None))),
    )
    words = []
    for column, one, many, held in counted:
        count = session.scalar(select(func.count(column)).where(*held))
        if count:
            words.append(plural(count, one, many or None))
    return ", ".join(words)
