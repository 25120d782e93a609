"""A certificate of the workshop's own, so that nobody on its Wi-Fi can read along.

Two parts. The workshop's authority, made once, is what a phone installs; it vouches for private
addresses and ``.local`` names alone, so that it could not be misused for a bank. The server's own
certificate is made from it for the names and addresses of today, and anew when they change.
Limits: 397 days and one name at least, as browsers ask of server certificates.
"""

import datetime as dt
import ipaddress
import os
from dataclasses import dataclass
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

_AUTHORITY_DAYS = 3650
_SERVER_DAYS = 397
_RENEW_DAYS = 30
# RFC 1918, RFC 3927, RFC 4193: what routers of workshops give out. And the PC itself.
_PRIVATE = (
    "10.0.0.0/8",
    "172.16.0.0/12",
    "192.168.0.0/16",
    "169.254.0.0/16",
    "127.0.0.0/8",
    "fc00::/7",
    "fe80::/10",
    "::1/128",
)


@dataclass(frozen=True, slots=True)
class Papers:
    """Where the server finds its certificate and key, and the authority a phone may install."""

    chain: Path
    key: Path
    authority_pem: bytes


def own_papers(folder: Path, names: tuple[str, ...], *, now: dt.datetime) -> Papers:
    """The certificates of a workshop, made if missing, old, or for other names than these."""
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    chain, key = folder / "server.pem", folder / "server.key"
    authority, authority_key = _authority(folder, names, now)
    authority_pem = _pem(authority)
    if not _still_good(chain, authority, names, now):
        certificate, made_key = _server(authority, authority_key, names, now)
        _write(key, _key_pem(made_key))
        _write(chain, _pem(certificate) + authority_pem)
    return Papers(chain, key, authority_pem)


def fingerprint(pem: bytes) -> str:
    """SHA-256 of a certificate in pairs, as phones show it."""
    digest = x509.load_pem_x509_certificate(pem).fingerprint(hashes.SHA256())
    return digest.hex(":").upper()


def _authority(
    folder: Path, names: tuple[str, ...], now: dt.datetime
) -> tuple[x509.Certificate, ec.EllipticCurvePrivateKey]:
    file, key_file = folder / "authority.pem", folder / "authority.key"
    if file.is_file() and key_file.is_file():
        certificate = x509.load_pem_x509_certificate(file.read_bytes())
        key = serialization.load_pem_private_key(key_file.read_bytes(), None)
        enough = dt.timedelta(days=_SERVER_DAYS)
        vouches = all(_vouches_for(certificate, name) for name in names)
        if (
            isinstance(key, ec.EllipticCurvePrivateKey)
            and vouches
            and certificate.not_valid_after_utc > now + enough
        ):
            return certificate, key
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "defectlog workshop authority")])
    certificate = (
        _begun(subject, subject, key.public_key(), now, _AUTHORITY_DAYS)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs=True), critical=True)
        .add_extension(_limits(names), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    _write(key_file, _key_pem(key))
    _write(file, _pem(certificate))
    return certificate, key


def _server(
    authority: x509.Certificate,
    authority_key: ec.EllipticCurvePrivateKey,
    names: tuple[str, ...],
    now: dt.datetime,
) -> tuple[x509.Certificate, ec.EllipticCurvePrivateKey]:
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, names[0][:64])])
    certificate = (
        _begun(subject, authority.subject, key.public_key(), now, _SERVER_DAYS)
        .add_extension(
            x509.SubjectAlternativeName([_general(name) for name in names]), critical=False
        )
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(authority_key.public_key()),
            critical=False,
        )
        .sign(authority_key, hashes.SHA256())
    )
    return certificate, key


def _begun(
    subject: x509.Name,
    issuer: x509.Name,
    public_key: ec.EllipticCurvePublicKey,
    now: dt.datetime,
    days: int,
) -> x509.CertificateBuilder:
    # Begun a day earlier, for the clock of a phone may run behind.
    begins = now - dt.timedelta(days=1)
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(public_key)
        .serial_number(x509.random_serial_number())
        .not_valid_before(begins)
        .not_valid_after(begins + dt.timedelta(days=days))
    )


def _limits(names: tuple[str, ...]) -> x509.NameConstraints:
    """What the authority may vouch for at all."""
    inside = [x509.IPAddress(ipaddress.ip_network(network)) for network in _PRIVATE]
    others = [general for general in map(_general, names) if not _is_private(general)]
    ours: list[x509.GeneralName] = [
        x509.IPAddress(ipaddress.ip_network(str(general.value)))
        if isinstance(general, x509.IPAddress)
        else general
        for general in others
    ]
    local: list[x509.GeneralName] = [x509.DNSName("local"), x509.DNSName("localhost")]
    return x509.NameConstraints(permitted_subtrees=[*local, *inside, *ours], excluded_subtrees=None)


def _vouches_for(authority: x509.Certificate, name: str) -> bool:
    limits = authority.extensions.get_extension_for_class(x509.NameConstraints).value
    general = _general(name)
    if _is_private(general):
        return True
    text = str(general.value)
    return any(
        str(tree.value) in (text, f"{text}/32", f"{text}/128")
        for tree in limits.permitted_subtrees or ()
    )


def _is_private(general: x509.GeneralName) -> bool:
    if isinstance(general, x509.IPAddress):
        address = ipaddress.ip_address(str(general.value))
        return any(
            address in network
            for network in map(ipaddress.ip_network, _PRIVATE)
            if network.version == address.version
        )
    return str(general.value) == "localhost" or str(general.value).endswith(".local")


def _general(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(name.strip("[]")))
    except ValueError:
        return x509.DNSName(name)


def _still_good(
    chain: Path, authority: x509.Certificate, names: tuple[str, ...], now: dt.datetime
) -> bool:
    if not chain.is_file():
        return False
    certificate = x509.load_pem_x509_certificate(chain.read_bytes())
    named = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    left = certificate.not_valid_after_utc - now
    try:
        certificate.verify_directly_issued_by(authority)
    except Exception:  # whatever is wrong with it, another one is made
        return False
    return left > dt.timedelta(days=_RENEW_DAYS) and set(map(_general, names)) <= set(named)


def _usage(*, signs: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs,
        key_cert_sign=signs,
        crl_sign=signs,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )


def _pem(certificate: x509.Certificate) -> bytes:
    return certificate.public_bytes(serialization.Encoding.PEM)


def _key_pem(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )


def _write(file: Path, data: bytes) -> None:
    """Whole or not at all, and for nobody else on this machine to read."""
    part = file.with_suffix(file.suffix + ".part")
    with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as out:
        out.write(data)
    os.replace(part, file)
