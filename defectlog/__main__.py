"""``python -m defectlog``."""

from defectlog.cli import cli

cli()
