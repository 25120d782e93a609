"""Keep the records: look them over, back them up, bring them back."""

import json
from datetime import UTC, datetime
from pathlib import Path

import click

from defectlog.commands.shared import DATABASE, FOLDER, HOME


@click.command()
@FOLDER
@DATABASE
@click.option("--set-aside", is_flag=True, help="Move files no record speaks of out of the way.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object.")
def verify(folder: Path | None, database: str | None, set_aside: bool, as_json: bool) -> None:
    """Look every photo file and every record over, and say exactly what is wrong.

    Nothing is changed. The exit status is 0 if all is well and 1 if something was found.

    \b
    Example:
        defectlog verify
    """
    from defectlog.bench import strays, upkeep
    from defectlog.bench.verify import verify as look_over

    with upkeep.opened(folder or HOME, database) as kept:
        if set_aside:
            with kept.records.write() as session, session.begin():
                moved = strays.set_aside(session, kept.store)
            click.echo(f"{moved} set aside in {kept.store.originals.folder}.", err=True)
        seen = look_over(kept, at=datetime.now(UTC))
    if as_json:
        click.echo(json.dumps(seen.as_json(), ensure_ascii=False))
    else:
        for fault in seen.faults:
            click.echo(fault.words)
        for remark in seen.remarks:
            click.echo(remark)
        click.echo(seen.words)
    if not seen.is_well:
        raise click.exceptions.Exit(1)


@click.command()
@FOLDER
@DATABASE
@click.option("-o", "out", required=True, type=click.Path(dir_okay=False, path_type=Path))
def backup(folder: Path | None, database: str | None, out: Path) -> None:
    """Make one archive of everything. defectlog may run meanwhile.

    The exit status is 1 if photo files were lost or damaged before; the rest is in the archive.

    \b
    Example:
        defectlog backup -o /media/stick/heron-slip.zip
    """
    from defectlog.bench import upkeep
    from defectlog.bench.backup import write_backup

    with upkeep.opened(folder or HOME, database) as kept:
        for _share in write_backup(kept, out, at=datetime.now(UTC)):
            pass
        made = upkeep.last_upkeep(kept.folder, upkeep.BACKED_UP)
    click.echo(f"{out}: {made.words if made else 'made'}.")
    if made and not made.is_well:
        raise click.exceptions.Exit(1)


@click.command()
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@click.option(
    "--folder",
    type=click.Path(file_okay=False, path_type=Path),
    envvar="DEFECTLOG_FOLDER",
    help="Where the records and photos are to lie.",
)
@DATABASE
@click.option("--replace", is_flag=True, help="Take the place of what is there; it is kept beside.")
@click.option("--check", is_flag=True, help="Only read the whole backup and check it.")
def restore(
    file: Path, folder: Path | None, database: str | None, replace: bool, check: bool
) -> None:
    """Bring everything back from a backup, on this machine or another one.

    Every file is checked before any is put in place. A copy of the records alone, as it is made
    before an upgrade, comes to the photos in the folder.

    \b
    Examples:
        defectlog restore /media/stick/heron-slip.zip
        defectlog restore records-before-0008-from-0007-20261125T120000.sqlite --replace
    """
    from defectlog.bench import going_back
    from defectlog.bench import restore as bringing_back

    if going_back.is_copy_of_records(file) and not check:
        now = datetime.now(UTC)
        click.echo(
            going_back.go_back(file, folder or HOME, at=now, replaces=replace, database=database)
        )
        return
    if check:
        held = bringing_back.check_backup(file)
        click.echo(f"{file}: {len(held.originals)} photo files and the records, all as listed.")
        return
    done = bringing_back.restore(
        file, folder or HOME, at=datetime.now(UTC), replaces=replace, database=database
    )
    click.echo(done.words)
