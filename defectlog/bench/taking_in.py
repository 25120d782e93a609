"""Take in a file of another shop: nothing of ours is changed, and twice is as good as once."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from defectlog.bench.kinds import forget_library, library_of
from defectlog.bench.knowledge import (
    VERSION,
    Knowledge,
    SharedCause,
    SharedCount,
    SharedFix,
    Shop,
    how_many,
)
from defectlog.bench.knowledge_rows import KnowledgeFileError
from defectlog.bench.own_kinds import free_code
from defectlog.bench.own_rows import Row
from defectlog.bench.sharing import our_mark
from defectlog.errors import DefectlogError
from defectlog.records import (
    Counted,
    Elsewhere,
    ElsewhereCount,
    HouseNote,
    OwnCause,
    OwnFix,
    OwnKind,
)


class OwnFileError(DefectlogError):
    """A shop has nothing to learn from its own file, and its cases would count twice."""

    def __init__(self) -> None:
        super().__init__(
            "This file was saved by this very workshop",
            "choose the file of another one; nothing was changed",
        )


class OlderFileError(DefectlogError):
    """A newer file of the same shop was taken in before."""

    def __init__(self, shop: Elsewhere) -> None:
        super().__init__(
            f"A newer file of {shop.name} was taken in already",
            "ask for a fresh one; nothing was changed",
        )


@dataclass(frozen=True, slots=True)
class TakenIn:
    """What was new or different in a file, and the kinds that had to take other letters."""

    shop: str
    kinds: int
    causes: int
    fixes: int
    notes: int
    counts: int
    recoded: tuple[tuple[str, str], ...]
    version: int

    @property
    def words(self) -> str:
        """``From Heron Slip: 2 kinds, 1 note. …``"""
        said = ", ".join(how_many(self.kinds, self.causes, self.fixes, self.notes, self.counts))
        if not said:
            return f"All that is in this file of {self.shop} was here already.{self._older}"
        words = f"From {self.shop}: {said}. Nothing of yours was changed."
        for title, code in self.recoded:
            words += f" {title} goes by {code} here, its letters were taken."
        return words + self._older

    @property
    def _older(self) -> str:
        if self.version == VERSION:
            return ""
        return (
            f" The file is of version {self.version}, which holds no fixes and no answers to the"
            " key: what is here of those stays."
        )


def take_in(session: Session, knowledge: Knowledge, *, at: datetime) -> TakenIn:
    """Keep what another shop knows beside what is known here.

    What is here already stays; only what the same shop wrote is brought up to date. What was
    deleted here stays deleted. The counts of a shop replace its earlier ones.

    Raises
    ------
    OwnFileError, OlderFileError
        If the file is this shop's own, or one older than was taken in before.
    KnowledgeFileError
        If it speaks of a kind that neither the guide, this shop nor the file has.
    """
    us = our_mark(session)
    if knowledge.shop.uid == us.uid:
        raise OwnFileError
    _see_kinds(session, knowledge)
    taking = _Taking(session, us, at)
    giver = taking.shop(knowledge.shop)
    if giver.exported_at is not None and knowledge.exported_at < giver.exported_at:
        raise OlderFileError(giver)
    giver.name = knowledge.shop.name
    recoded = taking.kinds(knowledge)
    taken = TakenIn(
        giver.name,
        taking.changed,
        taking.causes(knowledge),
        taking.fixes(knowledge),
        taking.notes(knowledge, giver),
        _counts(giver, knowledge.counts),
        recoded,
        knowledge.version,
    )
    if giver.exported_at != knowledge.exported_at:
        giver.exported_at, giver.imported_at = knowledge.exported_at, at
    session.flush()
    forget_library(session)
    return taken


def _see_kinds(session: Session, knowledge: Knowledge) -> None:
    known = {kind.key for kind in library_of(session).kinds}
    known |= {kind.key for kind in knowledge.kinds}
    spoken_of = [row.kind for row in knowledge.causes]
    spoken_of += [row.kind for row in knowledge.fixes]
    spoken_of += [row.kind for row in knowledge.notes]
    spoken_of += [row.kind for row in knowledge.counts]
    for kind in spoken_of:
        if kind not in known:
            problem = f"it speaks of the kind “{kind}”, which is not in this guide"
            raise KnowledgeFileError("", problem)


class _Taking:
    """One file being taken in: whose each row is, and whether it may be written."""

    def __init__(self, session: Session, us: Shop, at: datetime) -> None:
        self._session, self._us, self._at = session, us, at
        self.changed = 0

    def shop(self, shop: Shop) -> Elsewhere:
        row = self._session.scalar(select(Elsewhere).where(Elsewhere.uid == shop.uid))
        if row is None:
            row = Elsewhere(uid=shop.uid, name=shop.name, imported_at=self._at)
            self._session.add(row)
            self._session.flush()
        return row

    def kinds(self, knowledge: Knowledge) -> tuple[tuple[str, str], ...]:
        """Keep the kinds; those whose letters were taken, with the letters they got."""
        recoded = []
        for kind in knowledge.kinds:
            if kind.origin.uid == self._us.uid:
                continue
            words: dict[str, Any] = {
                "title": kind.title,
                "look": kind.look,
                "definition": kind.definition,
            }
            if knowledge.version > 1:
                words["answers"] = {name: list(given) for name, given in kind.answers} or None
            row = self._session.scalar(select(OwnKind).where(OwnKind.key == kind.key))
            if row is not None:
                self.changed += self._update(row, words, kind.origin, knowledge.shop)
                continue
            code = free_code(self._session, kind.code)
            if code != kind.code:
                recoded.append((kind.title, code))
            self._session.add(
                OwnKind(
                    key=kind.key,
                    code=code,
                    written_at=self._at,
                    elsewhere=self.shop(kind.origin),
                    **words,
                )
            )
            self._session.flush()
            forget_library(self._session)
            self.changed += 1
        return tuple(recoded)

    def causes(self, knowledge: Knowledge) -> int:
        kept = [self._keep(OwnCause, one, _cause_words(one), knowledge) for one in knowledge.causes]
        return sum(kept)

    def fixes(self, knowledge: Knowledge) -> int:
        kept = [self._keep(OwnFix, one, _fix_words(one), knowledge) for one in knowledge.fixes]
        return sum(kept)

    def _keep(
        self,
        table: type[Row],
        shared: SharedCause | SharedFix,
        words: Mapping[str, Any],
        knowledge: Knowledge,
    ) -> bool:
        """Keep one cause or fix, unless it is our own come back; whether anything changed."""
        if shared.origin.uid == self._us.uid:
            return False
        row = self._session.scalar(select(table).where(table.key == shared.key))
        if row is not None:
            return self._update(row, words, shared.origin, knowledge.shop)
        self._session.add(
            table(
                kind=shared.kind,
                key=shared.key,
                written_at=self._at,
                elsewhere=self.shop(shared.origin),
                **words,
            )
        )
        return True

    def notes(self, knowledge: Knowledge, giver: Elsewhere) -> int:
        changed = 0
        for note in knowledge.notes:
            row = self._session.scalar(select(HouseNote).where(HouseNote.uid == note.uid))
            if row is not None:
                words = {"words": note.words}
                changed += self._update(row, words, knowledge.shop, knowledge.shop)
                continue
            self._session.add(
                HouseNote(
                    uid=note.uid,
                    kind=note.kind,
                    words=note.words,
                    written_at=note.written_at,
                    elsewhere=giver,
                )
            )
            changed += 1
        return changed

    def _update(
        self,
        row: OwnKind | OwnCause | OwnFix | HouseNote,
        words: Mapping[str, Any],
        origin: Shop,
        giver: Shop,
    ) -> bool:
        """Bring a row up to date if the shop that wrote it says so itself; whether it changed."""
        written_by = row.elsewhere.uid if row.elsewhere else self._us.uid
        if not written_by == origin.uid == giver.uid:
            return False
        different = {name: value for name, value in words.items() if getattr(row, name) != value}
        for name, value in different.items():
            setattr(row, name, value)
        return bool(different)


def _cause_words(cause: SharedCause) -> dict[str, Any]:
    return {
        "title": cause.title,
        "why": cause.why,
        "check_do": cause.check_do,
        "check_positive": cause.check_positive,
        "check_minutes": cause.check_minutes,
        "prevention": cause.prevention,
    }


def _fix_words(fix: SharedFix) -> dict[str, Any]:
    return {
        "title": fix.title,
        "outcome": fix.outcome,
        "steps": [{"do": do, "cautions": list(cautions)} for do, cautions in fix.steps],
        "not_when": fix.not_when,
        "reinspect": fix.reinspect,
        "time": fix.time,
    }


def _counts(giver: Elsewhere, counts: tuple[SharedCount, ...]) -> int:
    """Replace what the shop counted before; how many counts are new, different or gone."""
    before = {(row.about, row.kind, row.key): row for row in giver.counts}
    changed = 0
    for count in counts:
        place: tuple[Counted, str, str] = (count.about, count.kind, count.key)
        row = before.pop(place, None)
        if row is None:
            row = ElsewhereCount(about=count.about, kind=count.kind, key=count.key)
            giver.counts.append(row)
        elif (row.count, row.cases) == (count.count, count.cases):
            continue
        row.count, row.cases = count.count, count.cases
        changed += 1
    for gone in before.values():
        giver.counts.remove(gone)
    return changed + len(before)
