"""Keyed marks. The keys stand in a file outside the database, so that a copy of the database alone links nothing."""

import hashlib
import hmac
import secrets
from collections.abc import Iterable
from functools import lru_cache

from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from django.conf import settings

MARK_BYTES = 16
NUMBER_BYTES = 8  # of a mark that is kept as a number
_NONCE_BYTES = 12


def key_version() -> int:
    """How many keys the chain has; stored beside marks that must survive a new key."""
    return len(settings.KEYS.mac_keys)


def derived_key(purpose: str, *, version: int | None = None) -> bytes:
    """A key for one purpose alone, 32 bytes; of the newest version unless one is named."""
    return _derived(settings.KEYS.mac_keys[(version or key_version()) - 1], purpose)


@lru_cache(maxsize=256)
def _derived(master: str, purpose: str) -> bytes:
    return hmac.digest(bytes.fromhex(master), purpose.encode(), hashlib.sha256)


def mac(purpose: str, value: bytes, *, n_bytes: int = MARK_BYTES) -> bytes:
    """The mark of `value` for one purpose.

    A new key wraps the old mark, HMAC_new(HMAC_old(x)): stored marks can be wrapped too without knowing their values.
    """
    return marks(purpose, value, n_bytes=n_bytes)[-1]


def marks(purpose: str, value: bytes, *, n_bytes: int = MARK_BYTES) -> list[bytes]:
    """What the mark of `value` was under the first key, and under each later one: a stored mark is one of these."""
    made: list[bytes] = []
    for master in settings.KEYS.mac_keys:
        made.append(_digest(_derived(master, purpose), made[-1] if made else value, n_bytes))
    return made


def joined_marks(purpose: str, values: Iterable[bytes], *, n_bytes: int) -> list[bytes]:
    """The marks of many values one after the other: a string for each key so far."""
    joined, made = [], list(values)
    for master in settings.KEYS.mac_keys:
        key = _derived(master, purpose)
        made = [_digest(key, value, n_bytes) for value in made]
        joined.append(b"".join(made))
    return joined


def written_marks(purpose: str, value: bytes) -> list[str]:
    """The same in hexadecimal digits."""
    return [mark.hex() for mark in marks(purpose, value)]


def wrap(purpose: str, mark: bytes, *, version: int, n_bytes: int = MARK_BYTES) -> bytes:
    """Carry one mark from the key before `version` to `version`."""
    return _digest(derived_key(purpose, version=version), mark, n_bytes)


def _digest(key: bytes, value: bytes, n_bytes: int) -> bytes:
    return hmac.digest(key, value, hashlib.sha256)[:n_bytes]


def carried(purpose: str, mark: bytes, *, made_under: int, n_bytes: int = MARK_BYTES) -> bytes:
    """Carry a stored mark from the version it was made under to the newest."""
    for version in range(made_under + 1, key_version() + 1):
        mark = wrap(purpose, mark, version=version, n_bytes=n_bytes)
    return mark


def encrypt(purpose: str, content: bytes, *, about: bytes, word: bytes = b"") -> bytes:
    """`content` under the newest key, tied to the row it is `about`: the same content never looks the same twice.

    With a `word` that its owner alone knows, nobody can read it without that word either.
    """
    nonce = secrets.token_bytes(_NONCE_BYTES)
    hidden = _cipher(purpose, key_version(), word).encrypt(nonce, content, about)
    return key_version().to_bytes() + nonce + hidden


def decrypt(purpose: str, stored: bytes, *, about: bytes, word: bytes = b"") -> bytes:
    """What `encrypt` hid, under whichever key of the chain."""
    version, nonce, hidden = stored[0], stored[1 : 1 + _NONCE_BYTES], stored[1 + _NONCE_BYTES :]
    return _cipher(purpose, version, word).decrypt(nonce, hidden, about)


def is_behind(stored: bytes) -> bool:
    """Whether something encrypted is not under the newest key."""
    return bool(stored) and stored[0] < key_version()


def _cipher(purpose: str, version: int, word: bytes) -> AESGCM:
    derived = derived_key(purpose, version=version)
    return _cipher_with(derived, word) if word else _cipher_without(derived)


def _cipher_with(derived: bytes, word: bytes) -> AESGCM:
    return AESGCM(hmac.digest(derived, word, hashlib.sha256))


@lru_cache(maxsize=256)
def _cipher_without(derived: bytes) -> AESGCM:
    return _cipher_with(derived, b"")
