"""How the app can be reached: this PC alone, or the workshop network, and under which names."""

import os
import socket
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from ipaddress import ip_address
from urllib.parse import urlsplit

_ALWAYS = ("localhost", "127.0.0.1", "[::1]")
_LOOK_AGAIN_S = 60
# Reserved for documentation (RFC 5737). Nothing is sent there: it only makes the system say which
# of its own addresses it would use.
_ELSEWHERE = ("192.0.2.1", "10.255.255.254", "192.168.255.254", "172.31.255.254")


@dataclass(frozen=True, slots=True)
class Network:
    """How the app is served.

    ``is_open``: the workshop network reaches it, so whoever asks has to have come in. ``base``:
    what a phone opens, such as ``http://192.168.1.5:8031``. ``proxies``: how many reverse proxies
    stand in front; with one, being on this PC means nothing any more.
    """

    is_open: bool = False
    base: str = ""
    names: tuple[str, ...] = ()
    proxies: int = 0
    # The workshop's own certificates, if it serves HTTPS by itself: what a phone may install, and
    # what its browser warns of otherwise.
    authority_pem: bytes = b""
    certificate_pem: bytes = b""

    @property
    def is_https(self) -> bool:
        return self.base.startswith("https://")


CLOSED = Network()


@dataclass(slots=True)
class OwnNames:
    """The names and addresses the app answers to; looked up again every minute.

    A page on a name that was made to point here (DNS rebinding) is not among them. Addresses are
    looked up again because the router may give the PC another one.
    """

    network: Network
    _known: list[str] = field(default_factory=list)
    _looked_at: float = -1e9

    def __iter__(self) -> Iterator[str]:
        if time.monotonic() - self._looked_at > _LOOK_AGAIN_S:
            self._known = own_names(self.network)
            self._looked_at = time.monotonic()
        return iter(self._known)


def own_names(network: Network) -> list[str]:
    """What may stand in the Host header of a request."""
    if not network.is_open:
        return list(_ALWAYS)
    ours = (*network.names, *_host_names(), *own_addresses())
    return [*_ALWAYS, *(_bracketed(name) for name in ours)]


def certified_names(network: Network) -> tuple[str, ...]:
    """What a certificate of our own is made out to: all that a phone may type."""
    host = _host_names()
    local = tuple(name for name in host if name.endswith(".local"))
    return tuple(
        dict.fromkeys((*network.names, *own_addresses(), *local, "localhost", "127.0.0.1"))
    )


def _host_names() -> list[str]:
    host = socket.gethostname().casefold()
    return [host, host.partition(".")[0] + ".local"] if host else []


def own_addresses() -> list[str]:
    """This machine's addresses on its networks, the one phones most likely reach first.

    Names are not looked up: without an internet that would wait for an answer that never comes.
    """
    found = [_used_towards(place) for place in _ELSEWHERE] + _of_interfaces()
    usable = [address for address in found if address and not ip_address(address).is_loopback]
    return list(dict.fromkeys(usable))


def base_today(network: Network) -> str:
    """What a phone opens now: the router may have given the PC another address since the start.

    A certificate is made out to the addresses of the start, so under HTTPS that one stays.
    """
    found = urlsplit(network.base)
    ours = own_addresses()
    if network.names or network.is_https or not ours or found.hostname in ours:
        return network.base
    return f"http://{ours[0]}:{found.port}"


def is_loopback(address: str) -> bool:
    """Whether a peer's address is this machine itself."""
    try:
        found = ip_address(address)
    except ValueError:
        return False
    return found.is_loopback or bool(
        getattr(found, "ipv4_mapped", None) and found.ipv4_mapped.is_loopback
    )


def _bracketed(name: str) -> str:
    return f"[{name}]" if ":" in name and not name.startswith("[") else name


def _used_towards(place: str) -> str:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect((place, 9))
        except OSError:
            return ""
        return str(probe.getsockname()[0])


def _of_interfaces() -> list[str]:
    """What the system says of each network card; only Linux says it this way."""
    if os.name != "posix" or not hasattr(socket, "if_nameindex"):
        return []
    try:
        import fcntl
    except ImportError:
        return []
    get_address = 0x8915  # SIOCGIFADDR, linux/sockios.h
    found = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        for _, name in socket.if_nameindex():
            asked = name.encode()[:15].ljust(256, b"\0")
            try:
                answer = fcntl.ioctl(probe.fileno(), get_address, asked)
            except OSError:
                continue
            found.append(socket.inet_ntoa(answer[20:24]))
    return found
