"""What the commands share: the workshop's folder, and how a fault is told."""

from pathlib import Path
from typing import Any

import click

from defectlog.errors import DefectlogError

HOME = Path.home() / "defectlog"

FOLDER = click.option(
    "--folder",
    type=click.Path(file_okay=False, path_type=Path),
    envvar="DEFECTLOG_FOLDER",
    help="Where the records and photos lie.",
)

DATABASE = click.option(
    "--database",
    envvar="DEFECTLOG_DATABASE",
    metavar="ADDRESS",
    help="A PostgreSQL database, if the records are not in the folder.",
)


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
