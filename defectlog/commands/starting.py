"""Start the app: on this workshop's records, or on the invented workshop."""

from pathlib import Path

import click

from defectlog.commands.shared import DATABASE, FOLDER, HOME

DEMO = Path.home() / "defectlog-demo"

_PORT = click.option(
    "--port", type=click.IntRange(1, 65535), default=8031, show_default=True, help="Port."
)
_HOST = click.option("--host", default="127.0.0.1", show_default=True, help="This machine only.")
_OPEN = click.option("--open/--no-open", "opens", default=True, help="Open the browser.")


@click.command()
@FOLDER
@DATABASE
@_HOST
@_PORT
@_OPEN
@click.option("--workshop", is_flag=True, help="Let paired phones in over the workshop network.")
@click.option("--https", is_flag=True, help="With a certificate of its own, on the next port.")
@click.option(
    "--address",
    "addresses",
    multiple=True,
    metavar="NAME",
    help="Name or address phones use, if not this machine's own. May be given several times.",
)
@click.option(
    "--proxies",
    type=click.IntRange(0, 5),
    default=0,
    help="How many reverse proxies stand in front, the last on this machine.",
)
def serve(
    folder: Path | None,
    database: str | None,
    host: str,
    port: int,
    opens: bool,
    workshop: bool,
    https: bool,
    addresses: tuple[str, ...],
    proxies: int,
) -> None:
    """Start on this workshop's records.

    With --workshop phones on the workshop network can be paired; it asks for a passphrase once.

    \b
    Examples:
        defectlog serve
        defectlog serve --workshop --https
    """
    from defectlog.commands.opening import Opening
    from defectlog.commands.serving import run

    opening = Opening(workshop, https, addresses, proxies)
    run(folder or HOME, host, port, opens, opening, database)


@click.command()
@FOLDER
@_HOST
@_PORT
@_OPEN
def demo(folder: Path | None, host: str, port: int, opens: bool) -> None:
    """Start on the invented workshop Heron Slip, in a folder of its own.

    \b
    Example:
        defectlog demo
    """
    from defectlog.commands.opening import Opening
    from defectlog.commands.serving import check_address, run
    from defectlog.demo.shop import ensure_demo

    check_address(host, port)
    alone = Opening(workshop=False, https=False, addresses=(), proxies=0)
    run(ensure_demo(folder or DEMO, _progress), host, port, opens, alone)


def _progress(share: float, words: str) -> None:
    done = round(30 * share)
    bar = "#" * done + "." * (30 - done)
    click.echo(f"\r[{bar}] {100 * share:3.0f} %  {words:<40}", err=True, nl=share >= 1)
