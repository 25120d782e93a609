"""The command line: start the app, measure photos, ask the guide, print the sheets."""

import click

from defectlog import __version__
from defectlog.commands import asking, measuring, sheets, starting
from defectlog.commands.shared import Faults


@click.group(cls=Faults, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="defectlog")
def cli() -> None:
    """Photograph, measure and learn from laminate parts at demould."""


for command in (
    starting.demo,
    starting.serve,
    measuring.measure,
    asking.guide,
    asking.why,
    sheets.card,
    sheets.dots,
):
    cli.add_command(command)
