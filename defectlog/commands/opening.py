"""Open the app to the workshop network: passphrase, addresses, certificate, proxy."""

import datetime as dt
from dataclasses import dataclass

import click
from flask import Flask

from defectlog.bench.passphrase import check_strength, has_passphrase, set_passphrase
from defectlog.errors import DefectlogError, FieldError
from defectlog.records.session import Records
from defectlog.web.network import Network, own_addresses


@dataclass(frozen=True, slots=True)
class Opening:
    """What was said on the command line about the network."""

    workshop: bool
    https: bool
    addresses: tuple[str, ...]
    proxies: int


class NoPassphraseError(DefectlogError):
    """The passphrase was not given, and nobody may come in without one."""

    def __init__(self) -> None:
        super().__init__(
            "The workshop network is not opened without a passphrase",
            "start again and type one, or set it in the app under Workshop, Devices",
        )


def check_opening(opening: Opening) -> None:
    """Refuse options that contradict each other."""
    if not opening.workshop and (opening.https or opening.addresses or opening.proxies):
        raise FieldError(
            "workshop",
            "--https, --address and --proxies are for the workshop network",
            "give --workshop too",
        )
    if opening.https and opening.proxies:
        raise FieldError(
            "https", "Behind a proxy HTTPS is the proxy's", "leave --https or --proxies away"
        )
    if opening.proxies and not opening.addresses:
        raise FieldError(
            "address",
            "Behind a proxy phones use the proxy's name",
            "give it, such as --address shop.example",
        )


def network_for(opening: Opening, port: int) -> tuple[Network, int]:
    """How the app will be reached, and the port of HTTPS if it serves that itself (0: not)."""
    if opening.proxies:
        base = f"https://{opening.addresses[0]}"
        return Network(True, base, opening.addresses, opening.proxies), 0
    places = (*opening.addresses, *own_addresses())
    if not places:
        raise FieldError(
            "address",
            "This machine has no address on a network",
            "connect it, or name the address phones shall use: --address 192.168.1.5",
        )
    if not opening.https:
        return Network(True, f"http://{_in_url(places[0])}:{port}", opening.addresses), 0
    base = f"https://{_in_url(places[0])}:{port + 1}"
    return Network(True, base, opening.addresses), port + 1


def ask_passphrase(app: Flask) -> None:
    """Ask for the passphrase on the terminal, once: where one is set nothing is asked."""
    records: Records = app.extensions["defectlog"][0]
    with records.read() as session:
        if has_passphrase(session):
            return
    click.echo("The workshop needs a passphrase. Four words that do not belong together are good.")
    while True:
        try:
            words = click.prompt("Passphrase", hide_input=True, confirmation_prompt="Once more")
            check_strength(words)
            break
        except click.Abort as error:
            raise NoPassphraseError from error
        except FieldError as error:
            click.echo(str(error), err=True)
    with records.write() as session, session.begin():
        set_passphrase(session, words, at=dt.datetime.now(dt.UTC))


def _in_url(address: str) -> str:
    return f"[{address}]" if ":" in address and not address.startswith("[") else address
