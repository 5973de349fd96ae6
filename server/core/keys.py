"""Keyed marks. The keys stand in a file outside the database, so that a copy of the database alone links nothing."""

import hashlib
import hmac

from django.conf import settings

MARK_BYTES = 16


def key_version() -> int:
    """How many keys the chain has; stored beside marks that must survive a new key."""
    return len(settings.KEYS.mac_keys)


def derived_key(purpose: str, *, version: int | None = None) -> bytes:
    """A key for one purpose alone, 32 bytes; of the newest version unless one is named."""
    master = bytes.fromhex(settings.KEYS.mac_keys[(version or key_version()) - 1])
    return hmac.digest(master, purpose.encode(), hashlib.sha256)


def mac(purpose: str, value: bytes) -> bytes:
    """The mark of `value` for one purpose, 16 bytes.

    A new key wraps the old mark, HMAC_new(HMAC_old(x)): stored marks can be wrapped too without knowing their values.
    """
    mark = value
    for version in range(1, key_version() + 1):
        mark = wrap(purpose, mark, version=version)
    return mark


def wrap(purpose: str, mark: bytes, *, version: int) -> bytes:
    """Carry one mark from the key before `version` to `version`."""
    return hmac.digest(derived_key(purpose, version=version), mark, hashlib.sha256)[:MARK_BYTES]
