"""The command line: start the app, measure photos, ask the guide, print a scale card."""

import json
import os
import socket
import sys
import webbrowser
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from defectlog import __version__
from defectlog.errors import DefectlogError, FieldError

if TYPE_CHECKING:
    from defectlog.guide.entry import Kind

HERE_ONLY = ("127.0.0.1", "localhost", "::1")
HOME = Path.home() / "defectlog"
DEMO = Path.home() / "defectlog-demo"


class UserFault(click.ClickException):
    """One sentence on standard error, exit status 2."""

    exit_code = 2

    def show(self, file: Any = None) -> None:
        click.echo(f"defectlog: {self.format_message()}", err=True)


class Faults(click.Group):
    """Tell a DefectlogError in one line on standard error; let bugs show their traceback."""

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except DefectlogError as error:
            raise UserFault(str(error)) from error


_FOLDER = click.option(
    "--folder",
    type=click.Path(file_okay=False, path_type=Path),
    envvar="DEFECTLOG_FOLDER",
    help="Where the records and photos lie.",
)
_PORT = click.option(
    "--port", type=click.IntRange(1, 65535), default=8031, show_default=True, help="Port."
)
_HOST = click.option("--host", default="127.0.0.1", show_default=True, help="This machine only.")
_OPEN = click.option("--open/--no-open", "opens", default=True, help="Open the browser.")


@click.group(cls=Faults, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="defectlog")
def cli() -> None:
    """Photograph, measure and learn from laminate parts at demould."""


@cli.command()
@_FOLDER
@_HOST
@_PORT
@_OPEN
def serve(folder: Path | None, host: str, port: int, opens: bool) -> None:
    """Start on this workshop's records.

    \b
    Example:
        defectlog serve
    """
    _serve(folder or HOME, host, port, opens)


@cli.command()
@_FOLDER
@_HOST
@_PORT
@_OPEN
def demo(folder: Path | None, host: str, port: int, opens: bool) -> None:
    """Start on the invented workshop Heron Slip, in a folder of its own.

    \b
    Example:
        defectlog demo
    """
    from defectlog.demo.shop import ensure_demo

    _check_address(host, port)
    _serve(ensure_demo(folder or DEMO, _progress), host, port, opens)


def _progress(share: float, words: str) -> None:
    done = round(30 * share)
    bar = "#" * done + "." * (30 - done)
    click.echo(f"\r[{bar}] {100 * share:3.0f} %  {words:<40}", err=True, nl=share >= 1)


def _serve(folder: Path, host: str, port: int, opens: bool) -> None:
    import waitress

    from defectlog.web import create_app

    _check_address(host, port)
    app = create_app(folder)
    address = f"http://{'[::1]' if host == '::1' else host}:{port}/"
    click.echo(f"Records in {folder}")
    click.echo(f"Open {address} in a browser. Ctrl+C stops.")
    if opens and sys.stdout.isatty():
        webbrowser.open(address)
    waitress.serve(
        app,
        host=host,
        port=port,
        threads=6,
        connection_limit=500,
        channel_timeout=30,
        max_request_body_size=app.config["MAX_CONTENT_LENGTH"],
        ident=None,
    )


def _check_address(host: str, port: int) -> None:
    """Refuse to listen where phones or strangers could reach the records unasked."""
    if host not in HERE_ONLY:
        raise FieldError(
            "host",
            f"defectlog does not listen on {host}, its records would lie open to the network",
            "leave --host away and use it on this machine",
        )
    family = socket.AF_INET6 if host == "::1" else socket.AF_INET
    with socket.socket(family) as probe:
        if os.name == "posix":
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as error:
            raise FieldError(
                "port", f"Port {port} is in use", "give another one, such as --port 8032"
            ) from error


@cli.command()
@click.argument("images", nargs=-1, required=True, type=click.Path(dir_okay=False, path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="One JSON object per image, one a line.")
@click.option("--card", is_flag=True, help="Our printed scale card lies in the picture.")
@click.option("--card-mm", type=float, help="Markers of this side, in mm, lie in the picture.")
@click.option("--px-per-mm", type=float, help="The scale, if it is known.")
@click.option("--region", metavar="X,Y,W,H", help="The part of the picture to inspect, in pixels.")
@click.option("--look", type=click.Choice(["auto", "dark", "bright"]), default="auto")
@click.option("--smallest-mm", type=float, help="Leave out voids smaller than this.")
@click.option("--csv", "csv_file", type=click.Path(dir_okay=False, path_type=Path))
@click.option("--overlay", "overlays", type=click.Path(file_okay=False, path_type=Path))
def measure(images: tuple[Path, ...], as_json: bool, **options: Any) -> None:
    """Measure the voids on photos of demoulded parts.

    \b
    Example:
        defectlog measure hatch-lid-14-tool.jpg --px-per-mm 12.5
    """
    from defectlog.bench.measure_files import Wanted, measure_files

    failed = False
    for result in measure_files(images, Wanted(**options)):
        if result.fault is not None:
            failed = True
            click.echo(f"defectlog: {result.words}", err=True)
        else:
            click.echo(json.dumps(result.as_json(), allow_nan=False) if as_json else result.words)
    if failed:
        raise click.exceptions.Exit(2)


@cli.command()
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


@cli.command("guide")
@click.argument("kind", required=False)
@click.option("--search", "words", metavar="WORDS", help="Find kinds by what is seen or felt.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object.")
def guide_(kind: str | None, words: str | None, as_json: bool) -> None:
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


@cli.command()
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


@cli.command()
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
