"""An operator's signature under an edition: Ed25519 (RFC 8032) over the digests of its document and its certificate."""

from collections.abc import Mapping
from typing import Any

import rfc8785
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from pooling.edition.document import sha256_hex
from pooling.errors import InvalidInput

SIGNATURE_FORMAT = "edition-signature/1"
ALGORITHM = "Ed25519"
_FIELDS = frozenset(("format", "algorithm", "public_key", "edition_sha256", "certificate_sha256", "signature"))


def public_key_hex(key: Ed25519PrivateKey) -> str:
    """The public half of a key, 64 hexadecimal digits."""
    return key.public_key().public_bytes_raw().hex()


def sign_edition(content: bytes, certificate: bytes, key: Ed25519PrivateKey) -> dict[str, str]:
    """Sign one edition; the same key, document and certificate give the same signature."""
    statement = _statement(content, certificate)
    return {
        **statement,
        "algorithm": ALGORITHM,
        "public_key": public_key_hex(key),
        "signature": key.sign(rfc8785.dumps(statement)).hex(),
    }


def check_signature(
    signature: Mapping[str, Any], content: bytes, certificate: bytes, *, public_key: str | None = None
) -> str:
    """Make sure that a signature is one of this document and certificate, and whose; return the public key.

    Raises
    ------
    InvalidInput
        If it is no signature, belongs to something else, does not hold, or is not by the key that was named.
    """
    if set(signature) != _FIELDS or signature["format"] != SIGNATURE_FORMAT or signature["algorithm"] != ALGORITHM:
        raise InvalidInput(f"this is no signature in the format {SIGNATURE_FORMAT}")
    if public_key is not None and signature["public_key"] != public_key.strip().lower():
        raise InvalidInput("it is signed with another key than the one you named")
    statement = _statement(content, certificate)
    if {name: signature[name] for name in statement} != statement:
        raise InvalidInput("the signature is of another document or another certificate")
    try:
        key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(signature["public_key"]))
        key.verify(bytes.fromhex(signature["signature"]), rfc8785.dumps(statement))
    except (InvalidSignature, ValueError, TypeError):
        raise InvalidInput("the signature does not hold: it was not made with this key over these bytes") from None
    return str(signature["public_key"])


def _statement(content: bytes, certificate: bytes) -> dict[str, str]:
    return {
        "format": SIGNATURE_FORMAT,
        "edition_sha256": sha256_hex(content),
        "certificate_sha256": sha256_hex(certificate),
    }
