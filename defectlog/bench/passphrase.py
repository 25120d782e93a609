"""The workshop's passphrase: strong enough to be asked for once, kept only as a hash.

The costs are 2^15, 8, 3 (32 MiB and a few tenths of a second), which the OWASP Password Storage
Cheat Sheet counts equal to its 2^17, 8, 1.
"""

import hashlib
import hmac
import re
import secrets
import threading
import unicodedata
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from defectlog.errors import DefectlogError, FieldError
from defectlog.records.people import Passphrase

SHORTEST, LONGEST = 12, 256

_N, _R, _P = 2**15, 8, 3
_MOST_MEMORY = 64 * 2**20
# A hash takes 32 MiB; a storm of tries shall take time from itself, not memory from the photos.
_AT_ONCE = threading.BoundedSemaphore(2)

# What people put in when they are asked for twelve letters. What is left without it has to do.
_WORN = re.compile(
    r"passphrase|passwor[dt]|qwert[yz]u?i?o?p?|letmein|welcome|workshop|defectlog|composites?|laminate"
    r"|admin(istrator)?|iloveyou|secret|changeme|abc(def)?|(0?123456789?0?)|987654321|(19|20)\d\d"
)


class WrongPassphraseError(DefectlogError):
    """Not the workshop's passphrase."""

    def __init__(self) -> None:
        super().__init__("That is not the workshop's passphrase", "look again and type it anew")


def check_strength(words: str) -> None:
    """Refuse a passphrase that would be guessed.

    Raises
    ------
    FieldError
        With what is missing.
    """
    if len(words) < SHORTEST:
        raise _weak(f"That passphrase has {len(words)} characters")
    if len(words) > LONGEST:
        raise FieldError(
            "passphrase", "That passphrase is very long", f"keep to {LONGEST} characters"
        )
    rest = _WORN.sub("", words.casefold().replace(" ", ""))
    if len(rest) < SHORTEST // 2 or len(set(words.casefold())) < 6:
        raise _weak("That passphrase is one of the first that would be tried")


def _weak(what: str) -> FieldError:
    do = f"take four words that do not belong together, {SHORTEST} characters or more"
    return FieldError("passphrase", what, do)


def set_passphrase(session: Session, words: str, *, at: datetime) -> None:
    """Make this the workshop's passphrase from now on."""
    check_strength(words)
    session.add(Passphrase(scrypt=_hashed(words), at=at))


def has_passphrase(session: Session) -> bool:
    """Whether one was ever set."""
    return _newest(session) is not None


def kept_hash(session: Session) -> str:
    """The hash in force; of nothing anybody knows, where no passphrase is set."""
    newest = _newest(session)
    return newest.scrypt if newest else _NOBODYS


def is_right(words: str, kept: str) -> bool:
    """Whether the words are those that were hashed. Slow on purpose: ask it outside a lock."""
    _, n, r, p, salt, digest = kept.split("$")
    made = _scrypt(words[: LONGEST + 1], bytes.fromhex(salt), int(n), int(r), int(p))
    return hmac.compare_digest(made.hex(), digest)


def _newest(session: Session) -> Passphrase | None:
    return session.scalars(select(Passphrase).order_by(Passphrase.id.desc()).limit(1)).first()


def _hashed(words: str) -> str:
    salt = secrets.token_bytes(16)
    return f"scrypt${_N}${_R}${_P}${salt.hex()}${_scrypt(words, salt, _N, _R, _P).hex()}"


def _scrypt(words: str, salt: bytes, n: int, r: int, p: int) -> bytes:
    # The same letters typed on another system may come in another form; and the end is marked, for
    # inside scrypt a key with zero bytes behind it equals the one without.
    key = unicodedata.normalize("NFKC", words).encode() + b"\n"
    with _AT_ONCE:
        return hashlib.scrypt(key, salt=salt, n=n, r=r, p=p, maxmem=_MOST_MEMORY, dklen=32)


# Takes as long to compare as a real one.
_NOBODYS = f"scrypt${_N}${_R}${_P}${'00' * 16}${'00' * 32}"
