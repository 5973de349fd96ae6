"""The operator's key, in a file apart from the database: it signs each edition as it is published."""

import os
import secrets
from pathlib import Path
from typing import Any

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat, load_pem_private_key
from django.conf import settings

from pooling.edition.signature import ALGORITHM, public_key_hex, sign_edition
from server.core.errors import Conflict

__all__ = ["ALGORITHM", "make_key", "public_key", "signed"]
UNREADABLE = "The signing key of this server cannot be used. Nothing was published; tell the operator."


def signed(content: bytes, certificate: bytes) -> dict[str, Any] | None:
    """The operator's signature under an edition; None where the server has no key.

    Raises
    ------
    Conflict
        If there is a file for the key and it holds none.
    """
    key = _key(settings.SIGNING_KEY_FILE)
    return None if key is None else sign_edition(content, certificate, key)


def public_key() -> str | None:
    """The public half of the key that signs now. Errors as `signed`."""
    key = _key(settings.SIGNING_KEY_FILE)
    return None if key is None else public_key_hex(key)


def make_key(*, anew: bool = False) -> str:
    """Make the key unless there is one, or a fresh one in its place; what was signed before stays signed.

    Returns
    -------
    str
        The public half, 64 hexadecimal digits.
    """
    target: Path = settings.SIGNING_KEY_FILE
    if anew or not target.exists():
        target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        draft = _written(target, Ed25519PrivateKey.generate())
        try:
            if anew:
                draft.replace(target)
            else:
                target.hardlink_to(draft)  # fails when another process was first
        except FileExistsError:
            pass
        finally:
            draft.unlink(missing_ok=True)
    return str(public_key())


def _written(target: Path, key: Ed25519PrivateKey) -> Path:
    """A finished file beside the target, readable by its owner alone."""
    draft = target.with_name(f".{target.name}.{secrets.token_hex(8)}")
    with os.fdopen(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as stream:
        stream.write(key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))
        stream.flush()
        os.fsync(stream.fileno())
    return draft


def _key(file: Path) -> Ed25519PrivateKey | None:
    try:
        found = load_pem_private_key(file.read_bytes(), password=None)
    except FileNotFoundError:
        return None
    except (OSError, ValueError, TypeError):
        raise Conflict(UNREADABLE) from None
    if not isinstance(found, Ed25519PrivateKey):
        raise Conflict(UNREADABLE)
    return found
