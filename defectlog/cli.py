"""The command line: start the app, measure, ask the guide, print sheets, keep the records."""

import click

from defectlog import __version__
from defectlog.commands import asking, handing_out, keeping, measuring, sheets, starting
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
    keeping.verify,
    keeping.backup,
    keeping.restore,
    handing_out.report,
    handing_out.export,
):
    cli.add_command(command)
