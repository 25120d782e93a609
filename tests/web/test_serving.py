"""The server as ``defectlog serve`` sets it: proxies believed only where told, limits kept."""

import contextlib
import http.client
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from click.testing import CliRunner
from waitress.server import create_server

from defectlog.cli import cli
from defectlog.commands.opening import Opening, network_for
from defectlog.commands.serving import server_settings
from defectlog.records import CameBy
from defectlog.web import create_app
from defectlog.web.network import Network, own_names
from tests.web.browsers import PASSPHRASE, admit


@contextmanager
def served(app, proxies: int = 0) -> Iterator[int]:
    settings = server_settings(app.config["MAX_CONTENT_LENGTH"], proxies)
    server = create_server(app, host="127.0.0.1", port=0, **settings | {"threads": 4})

    def run() -> None:
        with contextlib.suppress(OSError):
            server.run()

    threading.Thread(target=run, daemon=True).start()
    yield server.effective_port
    server.close()
    app.extensions["defectlog"][0].close()


def ask(port: int, path: str, **headers: str) -> int:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
    connection.request("GET", path, headers={n.replace("_", "-"): v for n, v in headers.items()})
    answer = connection.getresponse()
    answer.read()
    return answer.status


def test_behind_a_proxy_its_word_counts_for_https_and_address(tmp_path: Path) -> None:
    network = Network(True, "https://shop.example", ("shop.example",), proxies=1)
    app = create_app(tmp_path, network=network)
    key = admit(app, came_by=CameBy.PASSPHRASE)[1]
    by_proxy = {"Host": "shop.example", "X_Forwarded_For": "203.0.113.9"}
    with served(app, proxies=1) as port:
        secure = {**by_proxy, "X_Forwarded_Proto": "https", "Cookie": f"__Host-defectlog-key={key}"}
        assert ask(port, "/workshop/devices/", **secure) == 200
        # Without HTTPS before the proxy the keeper's page stays shut, and so it does to the PC.
        plain = {**by_proxy, "X_Forwarded_Proto": "http", "Cookie": f"defectlog-key={key}"}
        assert ask(port, "/workshop/devices/", **plain) == 403
        assert ask(port, "/workshop/devices/", Host="localhost", Cookie=plain["Cookie"]) == 403
        # What a client wrote before the proxy's own entry is not believed.
        lied = {**secure, "X_Forwarded_For": "127.0.0.1, 203.0.113.9"}
        assert ask(port, "/", **lied) == 200
        assert ask(port, "/", **{**secure, "Host": "evil.example"}) == 400


def test_without_a_proxy_nobody_is_believed(tmp_path: Path) -> None:
    app = create_app(tmp_path, network=Network(True, "http://192.168.1.5:8031"))
    key = admit(app)[1]
    with served(app) as port:
        cookie = f"__Host-defectlog-key={key}"
        assert ask(port, "/builds/", Cookie=f"defectlog-key={key}", Host="localhost") == 200
        lies = {"X_Forwarded_Proto": "https", "X_Forwarded_For": "127.0.0.1", "Cookie": cookie}
        assert ask(port, "/builds/", Host="localhost", **lies) == 401


def test_a_body_or_head_that_is_too_large_is_refused_before_it_is_read(tmp_path: Path) -> None:
    app = create_app(tmp_path)
    with served(app) as port:

        def first_line(said: bytes) -> bytes:
            with socket.create_connection(("127.0.0.1", port), timeout=20) as raw:
                raw.sendall(said)
                return raw.recv(200).split(b"\r\n")[0]

        start = b"POST /builds/1/photos HTTP/1.1\r\nHost: localhost\r\n"
        assert b"413" in first_line(start + b"Content-Length: 10000000000\r\n\r\n")
        assert b"431" in first_line(start + b"X-Long: " + b"x" * 33_000 + b"\r\n\r\n")
        assert b"400" in first_line(start + b"Content-Length: -1\r\n\r\n")


@pytest.mark.parametrize("path", ["/workshop/parts/new", "/builds/new", "/enter"])
def test_a_form_may_bring_a_mebibyte(app, path: str) -> None:
    client = app.test_client()
    assert client.post(path, data={"name": "x" * (2**20 + 1)}).status_code == 413
    many = {f"field-{n}": (b"x",) for n in range(400)}
    assert client.post(path, data=many, content_type="multipart/form-data").status_code == 413


# The command.


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--https"], "give --workshop too"),
        (["--address", "shop.example"], "give --workshop too"),
        (["--workshop", "--proxies", "1"], "--address shop.example"),
        (["--workshop", "--https", "--proxies", "1", "--address", "a.example"], "proxy's"),
        (["--host", "0.0.0.0"], "for phones use --workshop"),
    ],
)
def test_options_that_do_not_go_together_are_told(
    tmp_path: Path, options: list[str], words: str
) -> None:
    said = CliRunner().invoke(cli, ["serve", "--folder", str(tmp_path), *options])
    assert said.exit_code == 2
    assert words in said.output


def test_the_network_is_not_opened_without_a_passphrase(tmp_path: Path) -> None:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = ["serve", "--folder", str(tmp_path), "--workshop", "--port", str(port)]
    said = CliRunner().invoke(cli, [*command, "--address", "192.168.1.5"], input="")
    assert said.exit_code == 2
    assert "not opened without a passphrase" in said.output
    # Too weak twice, and then the end: each time it says what is missing.
    weak = CliRunner().invoke(
        cli, [*command, "--address", "192.168.1.5"], input="short\nshort\nabc\nabc\n"
    )
    assert weak.exit_code == 2 and weak.output.count("four words") == 2
    assert PASSPHRASE not in weak.output


def test_phones_are_sent_to_the_address_that_was_named() -> None:
    def base(*, addresses: tuple[str, ...], https: bool = False, proxies: int = 0) -> str:
        return network_for(Opening(True, https, addresses, proxies), 8031)[0].base

    assert base(addresses=("hatch.local",)) == "http://hatch.local:8031"
    assert base(addresses=("fd00::5",)) == "http://[fd00::5]:8031"
    assert base(addresses=("hatch.local",), https=True) == "https://hatch.local:8032"
    assert base(addresses=("shop.example",), proxies=1) == "https://shop.example"


def test_the_app_answers_to_its_own_names_alone() -> None:
    names = own_names(Network(True, names=("hatch.local", "fd00::5")))
    assert {"localhost", "127.0.0.1", "[::1]", "hatch.local", "[fd00::5]"} <= set(names)
    assert socket.gethostname().casefold() in names
    assert own_names(Network()) == ["localhost", "127.0.0.1", "[::1]"]


def test_the_picture_leads_to_the_address_the_pc_has_now() -> None:
    from defectlog.web.network import base_today, own_addresses

    ours = own_addresses()
    # The address of the start is one nobody has (RFC 5737): the router gave out another since.
    moved = base_today(Network(True, "http://198.51.100.7:8031"))
    assert moved == (f"http://{ours[0]}:8031" if ours else "http://198.51.100.7:8031")
    named = Network(True, "http://hatch.local:8031", ("hatch.local",))
    assert base_today(named) == named.base
    secure = Network(True, "https://198.51.100.7:8032")
    assert base_today(secure) == secure.base
