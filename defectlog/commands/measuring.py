"""Measure photos without the app."""

import json
from pathlib import Path
from typing import Any

import click


@click.command()
@click.argument("images", nargs=-1, required=True, type=click.Path(dir_okay=False, path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="One JSON object per image, one a line.")
@click.option("--card", is_flag=True, help="Our printed scale card lies in the picture.")
@click.option(
    "--printed", metavar="ACROSS,DOWN", help="What the card's two check lines measure, in mm."
)
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
    Examples:
        defectlog measure hatch-lid-14-tool.jpg --px-per-mm 12.5
        defectlog measure hatch-lid-14-tool.jpg --card --printed 120.5,120.3
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
