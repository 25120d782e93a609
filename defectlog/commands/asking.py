"""Ask the guide: what a kind of defect is, and what most likely caused it.

Where a workshop keeps records, what it knows by itself is asked too; nothing is ever made or
brought up to date for that, and without records no table is so much as imported.
"""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from defectlog.commands.shared import FOLDER, HOME
from defectlog.errors import FieldError

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from defectlog.guide.entry import Kind
    from defectlog.guide.library import Library

_RECORDS = "records.sqlite"


@click.command()
@FOLDER
@click.argument("kind")
@click.option("--fact", "facts", multiple=True, metavar="NAME=VALUE", help="A known build fact.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object.")
def why(folder: Path | None, kind: str, facts: tuple[str, ...], as_json: bool) -> None:
    """Rank the causes of a kind of defect from what is known of the build.

    The kinds, causes and confirmed cases of this workshop count too, if it keeps records.

    \b
    Example:
        defectlog why peel-tear --fact peel_fold_back_deg=90 --fact peel_pace=rushed
    """
    from defectlog.facts import read_named
    from defectlog.guide.ranking import rank

    with _workshop(folder) as session:
        entry = _kind(kind, session)
        known = dict(read_named(fact) for fact in facts)
        ranking = rank(entry, known, _history(kind, session))
    if as_json:
        click.echo(json.dumps(ranking.as_json(), ensure_ascii=False, allow_nan=False))
    else:
        click.echo(ranking.in_words())


@contextmanager
def _workshop(folder: Path | None) -> "Iterator[Session | None]":
    """The records of a workshop to look things up in, or None where there are none.

    Records of another version are left alone: that is said, and the guide answers by itself.
    """
    if folder is None and not (HOME / _RECORDS).is_file():
        yield None
        return
    from defectlog.bench import upkeep
    from defectlog.records.migrating import newest_step, step_of

    with upkeep.opened(folder or HOME) as kept:
        if step_of(kept.records.engine) != newest_step():
            click.echo(
                f"defectlog: The records in {kept.folder} are of another version and were left "
                "out: start defectlog on them once to bring them up to date.",
                err=True,
            )
            yield None
            return
        with kept.records.read() as session:
            yield session


def _library(session: "Session | None") -> "Library":
    if session is None:
        from defectlog.guide import library

        return library.guide_library()
    from defectlog.bench.kinds import library_of

    return library_of(session)


def _kind(key: str, session: "Session | None") -> "Kind":
    kind = _library(session).find(key)
    if kind is None:
        raise FieldError(
            "kind", f"The guide has no kind “{key}”", "defectlog guide lists them, by key"
        )
    return kind


def _history(kind: str, session: "Session | None") -> Any:
    if session is None:
        return None
    from defectlog.bench.why import cases_of

    return cases_of(session, kind)


def _notes(session: "Session | None") -> dict[str, str]:
    if session is None:
        return {}
    from defectlog.bench.house_notes import words_by_kind

    return {kind: "\n".join(said) for kind, said in words_by_kind(session).items()}


@click.command("guide")
@FOLDER
@click.argument("kind", required=False)
@click.option("--search", "words", metavar="WORDS", help="Find kinds by what is seen or felt.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object.")
def guide(folder: Path | None, kind: str | None, words: str | None, as_json: bool) -> None:
    """Show what the guide knows of a kind of defect, or find kinds by words.

    Without KIND and words it lists every kind. Misspelt words are forgiven. The kinds, causes,
    fixes and house notes of this workshop are there too, if it keeps records.

    \b
    Example:
        defectlog guide --search "white specks"
        defectlog guide peel-tear
    """
    from defectlog.guide import look_up, told

    if kind is not None and words is not None:
        raise FieldError("search", "A kind and words to search for were given", "give one of them")
    with _workshop(folder) as session:
        if kind is not None:
            entry = _kind(kind, session)
            said: Any = told.kind_json(entry) if as_json else told.kind_words(entry)
        else:
            found = look_up(words or "", _library(session).kinds, _notes(session))
            said = told.found_json(found, words or "") if as_json else told.found_words(found)
    click.echo(json.dumps(said, ensure_ascii=False, allow_nan=False) if as_json else said)
