"""Ask the guide: what a kind of defect is, and what most likely caused it."""

import json
from typing import TYPE_CHECKING, Any

import click

from defectlog.errors import FieldError

if TYPE_CHECKING:
    from defectlog.guide.entry import Kind


@click.command()
@click.argument("kind")
@click.option("--fact", "facts", multiple=True, metavar="NAME=VALUE", help="A known build fact.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object.")
def why(kind: str, facts: tuple[str, ...], as_json: bool) -> None:
    """Rank the causes of a kind of defect from what is known of the build.

    \b
    Example:
        defectlog why peel-tear --fact peel_fold_back_deg=90 --fact peel_pace=rushed
    """
    from defectlog.facts import read_named
    from defectlog.guide.ranking import rank

    entry = _kind_of_guide(kind)
    known = dict(read_named(fact) for fact in facts)
    ranking = rank(entry, known)
    if as_json:
        click.echo(json.dumps(ranking.as_json(), ensure_ascii=False, allow_nan=False))
    else:
        click.echo(ranking.in_words())


def _kind_of_guide(key: str) -> "Kind":
    from defectlog.guide import library

    kind = library.guide_library().find(key)
    if kind is None:
        raise FieldError(
            "kind", f"The guide has no kind “{key}”", "defectlog guide lists them, by key"
        )
    return kind


@click.command("guide")
@click.argument("kind", required=False)
@click.option("--search", "words", metavar="WORDS", help="Find kinds by what is seen or felt.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object.")
def guide(kind: str | None, words: str | None, as_json: bool) -> None:
    """Show what the guide knows of a kind of defect, or find kinds by words.

    Without KIND and words it lists every kind. Misspelt words are forgiven.

    \b
    Example:
        defectlog guide --search "white specks"
        defectlog guide peel-tear
    """
    from defectlog.guide import look_up, told

    if kind is not None and words is not None:
        raise FieldError("search", "A kind and words to search for were given", "give one of them")
    if kind is not None:
        entry = _kind_of_guide(kind)
        said: Any = told.kind_json(entry) if as_json else told.kind_words(entry)
    else:
        found = look_up(words or "")
        said = told.found_json(found, words or "") if as_json else told.found_words(found)
    click.echo(json.dumps(said, ensure_ascii=False, allow_nan=False) if as_json else said)
