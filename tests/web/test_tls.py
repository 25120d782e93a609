"""HTTPS by itself: certificates a strict client accepts, and a real server behind real TLS."""

import contextlib
import datetime as dt
import http.client
import io
import socket
import ssl
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.x509.verification import PolicyBuilder, Store, VerificationError
from waitress.server import create_server

from defectlog.web.certificate import Papers, fingerprint, own_papers
from defectlog.web.tls import Peers, TlsFront, tls_context

NOW = dt.datetime.now(dt.UTC)
NAMES = ("192.168.1.5", "hatch.local", "localhost", "127.0.0.1")


def verify(papers: Papers, name: str) -> None:
    """As an independent, strict verifier sees it (web PKI rules of RFC 5280 and browsers)."""
    import ipaddress

    authority = x509.load_pem_x509_certificate(papers.authority_pem)
    leaf = x509.load_pem_x509_certificate(papers.chain.read_bytes())
    try:
        subject: x509.GeneralName = x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        subject = x509.DNSName(name)
    builder = PolicyBuilder().store(Store([authority])).time(NOW)
    builder.build_server_verifier(subject).verify(leaf, [])


def test_a_strict_verifier_accepts_every_name_it_is_made_out_to(tmp_path: Path) -> None:
    papers = own_papers(tmp_path, NAMES, now=NOW)
    for name in NAMES:
        verify(papers, name)
    with pytest.raises(VerificationError):
        verify(papers, "evil.example")


def test_the_authority_could_not_vouch_for_another_site(tmp_path: Path) -> None:
    own_papers(tmp_path, NAMES, now=NOW)
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    from defectlog.web import certificate as made

    authority = x509.load_pem_x509_certificate((tmp_path / "authority.pem").read_bytes())
    key = load_pem_private_key((tmp_path / "authority.key").read_bytes(), None)
    # Whoever steals the key signs for a bank: the verifier refuses what the limits leave out.
    stolen, _ = made._server(authority, key, ("bank.example",), NOW)
    builder = PolicyBuilder().store(Store([authority])).time(NOW)
    with pytest.raises(VerificationError):
        builder.build_server_verifier(x509.DNSName("bank.example")).verify(stolen, [])


def test_certificates_are_kept_until_the_address_changes_or_they_grow_old(tmp_path: Path) -> None:
    first = own_papers(tmp_path, NAMES, now=NOW)
    served = first.chain.read_bytes()

    assert own_papers(tmp_path, NAMES, now=NOW).chain.read_bytes() == served
    # Another address of the same network: the phone knows the authority already.
    moved = own_papers(tmp_path, ("192.168.1.99", *NAMES[1:]), now=NOW)
    assert moved.chain.read_bytes() != served and moved.authority_pem == first.authority_pem
    # A year later: renewed 30 days before the 397 are over.
    later = own_papers(tmp_path, NAMES, now=NOW + dt.timedelta(days=370))
    assert later.authority_pem == first.authority_pem
    leaf = x509.load_pem_x509_certificate(later.chain.read_bytes())
    assert leaf.not_valid_after_utc > NOW + dt.timedelta(days=700)


def test_a_name_given_by_hand_is_vouched_for_too(tmp_path: Path) -> None:
    before = own_papers(tmp_path, NAMES, now=NOW)
    named = own_papers(tmp_path, ("shop.example", *NAMES), now=NOW)
    verify(named, "shop.example")
    assert named.authority_pem != before.authority_pem


def test_keys_are_for_nobody_else_to_read(tmp_path: Path) -> None:
    own_papers(tmp_path / "https", NAMES, now=NOW)
    for file in (tmp_path / "https").iterdir():
        assert file.stat().st_mode & 0o077 == 0, file
    assert (tmp_path / "https").stat().st_mode & 0o077 == 0


def test_the_fingerprint_is_that_of_the_standard_library(tmp_path: Path) -> None:
    import hashlib

    pem = own_papers(tmp_path, NAMES, now=NOW).authority_pem
    der = ssl.PEM_cert_to_DER_cert(pem.decode())
    assert fingerprint(pem).replace(":", "").lower() == hashlib.sha256(der).hexdigest()


class Served:
    """A WSGI app that says what it saw, behind waitress behind TLS."""

    def __init__(self, folder: Path) -> None:
        self.papers = own_papers(folder, NAMES, now=NOW)
        peers = Peers()
        self.server = create_server(peers.tell_app(self.app), host="127.0.0.1", port=0, threads=4)
        self.inner_port = self.server.effective_port
        threading.Thread(target=self._serve, daemon=True).start()
        context = tls_context(self.papers.chain, self.papers.key)
        self.front = TlsFront(context, peers, host="127.0.0.1", port=0, server_port=self.inner_port)
        self.front.start()
        self.seen: list[dict[str, str]] = []

    def _serve(self) -> None:
        with contextlib.suppress(OSError):  # closed while it waited
            self.server.run()

    def app(self, environ, start_response):
        size = len(environ["wsgi.input"].read())
        self.seen.append({"scheme": environ["wsgi.url_scheme"], "from": environ["REMOTE_ADDR"]})
        answer = (str(size) + "\n").encode() + b"x" * int(environ.get("HTTP_X_WANT", "0"))
        start_response("200 OK", [("Content-Length", str(len(answer)))])
        return [answer]

    def connect(self) -> http.client.HTTPSConnection:
        trusting = ssl.create_default_context(cadata=self.papers.authority_pem.decode())
        return http.client.HTTPSConnection("127.0.0.1", self.front.port, context=trusting)

    def close(self) -> None:
        self.front.stop()
        self.server.close()


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    made = Served(Path(tmp_path_factory.mktemp("https")))
    yield made
    made.close()


def test_what_came_by_tls_says_so_and_what_did_not_cannot_pretend(served: Served) -> None:
    secure = served.connect()
    secure.request("GET", "/")
    assert secure.getresponse().read() == b"0\n"
    assert served.seen[-1] == {"scheme": "https", "from": "127.0.0.1"}

    plain = http.client.HTTPConnection("127.0.0.1", served.inner_port)
    lies = {"X-Forwarded-Proto": "https", "X-Forwarded-For": "192.168.1.9", "REMOTE_PORT": "1"}
    plain.request("GET", "/", headers=lies)
    plain.getresponse().read()
    assert served.seen[-1] == {"scheme": "http", "from": "127.0.0.1"}


def test_large_bodies_pass_both_ways_and_a_connection_is_used_again(served: Served) -> None:
    connection = served.connect()
    size = 6 * 2**20
    for _ in range(2):
        connection.request("POST", "/", body=b"p" * size, headers={"X-Want": str(size)})
        answer = connection.getresponse().read()
        assert answer.startswith(f"{size}\n".encode())
        assert len(answer) == len(f"{size}\n") + size


def test_handshakes_that_never_end_hold_up_nobody(served: Served) -> None:
    silent = [socket.create_connection(("127.0.0.1", served.front.port)) for _ in range(50)]
    connection = served.connect()
    connection.timeout = 10
    connection.request("GET", "/")
    assert connection.getresponse().status == 200
    for each in silent:
        each.close()


def test_plain_http_and_old_tls_get_no_answer(served: Served) -> None:
    with socket.create_connection(("127.0.0.1", served.front.port), timeout=10) as plain:
        plain.sendall(b"GET / HTTP/1.1\r\nHost: localhost\r\n\r\n")
        assert b"200 OK" not in io.BytesIO(plain.recv(200)).read()
    old = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    old.load_verify_locations(cadata=served.papers.authority_pem.decode())
    old.maximum_version = ssl.TLSVersion.TLSv1_1
    with (
        socket.create_connection(("127.0.0.1", served.front.port), timeout=10) as raw,
        pytest.raises((ssl.SSLError, OSError)),
    ):
        old.wrap_socket(raw, server_hostname="127.0.0.1")


def test_nothing_is_left_of_connections_that_are_gone(served: Served) -> None:
    for _ in range(5):
        connection = served.connect()
        connection.request("GET", "/")
        connection.getresponse().read()
        connection.close()
    for _ in range(100):
        if not served.front._open:
            break
        time.sleep(0.05)
    assert served.front._open == 0
    assert served.front._peers._by_port == {}
