"""Hand out: the demould report of a build, and everything in open formats."""

from datetime import UTC, datetime
from pathlib import Path

import click

from defectlog.commands.shared import DATABASE, FOLDER, HOME

_OUT = click.option("-o", "out", required=True, type=click.Path(dir_okay=False, path_type=Path))


@click.command()
@click.argument("build", type=click.IntRange(1, 2**31 - 1))
@FOLDER
@DATABASE
@_OUT
def report(build: int, folder: Path | None, database: str | None, out: Path) -> None:
    """Write the demould report of a build as PDF.

    The place a photo was taken at is never in it.

    \b
    Example:
        defectlog report 14 -o demould-report-14.pdf
    """
    from defectlog.bench.backup import whole_file
    from defectlog.bench.demould import demould_pdf
    from defectlog.bench.upkeep import opened

    with opened(folder or HOME, database) as kept, kept.records.read() as session:
        pdf = demould_pdf(session, kept.store, build, at=datetime.now(UTC))
    with whole_file(out) as file:
        file.write(pdf)
    click.echo(f"{out}: the demould report of build {build}.")


@click.command()
@FOLDER
@DATABASE
@_OUT
@click.option("--with-position", is_flag=True, help="Photos as they came, place included.")
def export(folder: Path | None, database: str | None, out: Path, with_position: bool) -> None:
    """Write everything in open formats: tables, photos, marks.

    Photos come without the place they were taken at, unless it is asked for.

    \b
    Example:
        defectlog export -o heron-slip-export.zip
    """
    from defectlog.bench.export import write_export
    from defectlog.bench.upkeep import opened

    with opened(folder or HOME, database) as kept:
        for _share in write_export(kept, out, at=datetime.now(UTC), with_position=with_position):
            pass
    click.echo(f"{out}: everything in open formats; README.txt in it says what is what.")
