"""The sheets to print: the scale card, and the dots that check the measuring."""

import json
from pathlib import Path

import click

from defectlog.errors import FieldError


@click.command()
@click.option("--paper", type=click.Choice(["a4", "letter", "id1"]), default="a4")
@click.option("-o", "out", required=True, type=click.Path(dir_okay=False, path_type=Path))
def card(paper: str, out: Path) -> None:
    """Make the printable scale card as PDF.

    \b
    Example:
        defectlog card --paper a4 -o scale-card.pdf
    """
    from defectlog.report.scale_card import scale_card_pdf

    try:
        out.write_bytes(scale_card_pdf(paper))
    except OSError as error:
        raise FieldError("out", f"{out} could not be written", "choose another place") from error
    click.echo(f"{out}: print it at actual size, then check the ruled edge with a steel rule.")


@click.command()
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True)
@click.option("-o", "out", type=click.Path(dir_okay=False, path_type=Path), help="Print it here.")
@click.option(
    "--measure",
    "photo",
    type=click.Path(dir_okay=False, path_type=Path),
    help="A photo of the printed sheet.",
)
@click.option("--json", "as_json", is_flag=True, help="One JSON object.")
def dots(paper: str, out: Path | None, photo: Path | None, as_json: bool) -> None:
    """Make the dot sheet as PDF, or check measuring on a photo of it.

    Its fields hold dots of known sizes that cover known shares of them.

    \b
    Example:
        defectlog dots --paper a4 -o dot-sheet.pdf
        defectlog dots --measure dot-sheet-by-the-window.jpg
    """
    if (out is None) == (photo is None):
        raise FieldError("out", "Give either -o or --measure", "one makes the sheet, one reads it")
    if out is not None:
        from defectlog.report.dot_sheet import dot_sheet_pdf

        try:
            out.write_bytes(dot_sheet_pdf(paper))
        except OSError as error:
            raise FieldError(
                "out", f"{out} could not be written", "choose another place"
            ) from error
        click.echo(f"{out}: print it at actual size, as finely as the printer can.")
    elif photo is not None:
        from defectlog.bench.dots import measure_dot_file, reading_json, reading_words

        reading = measure_dot_file(photo)
        if as_json:
            click.echo(json.dumps(reading_json(str(photo), reading), allow_nan=False))
        else:
            click.echo(reading_words(reading))
