"""The operator's signature."""

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from pooling.edition.signature import check_signature, public_key_hex, sign_edition
from pooling.errors import InvalidInput


def test_keys_are_those_of_the_standard():
    # RFC 8032, section 7.1, test 1: secret key and its public key.
    secret = "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60"
    public = "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a"
    assert public_key_hex(Ed25519PrivateKey.from_private_bytes(bytes.fromhex(secret))) == public


def test_a_signature_holds_for_its_edition_and_says_whose_it_is(content, certificate, key):
    signature = sign_edition(content, certificate, key)
    assert check_signature(signature, content, certificate) == public_key_hex(key)
    assert check_signature(signature, content, certificate, public_key=public_key_hex(key).upper())
    assert signature == sign_edition(content, certificate, key)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("format", "edition-signature/2"),
        ("algorithm", "none"),
        ("edition_sha256", "0" * 64),
        ("certificate_sha256", "0" * 64),
        ("public_key", "00" * 32),
        ("public_key", 7),
        ("public_key", "zz"),
        ("signature", "00" * 64),
        ("signature", ""),
        ("signature", None),
        ("more", "x"),
    ],
)
def test_nothing_of_it_can_be_changed(content, certificate, key, field, value):
    with pytest.raises(InvalidInput):
        check_signature({**sign_edition(content, certificate, key), field: value}, content, certificate)


def test_it_holds_for_no_other_document_or_certificate_and_not_for_another_key(content, certificate, key):
    signature = sign_edition(content, certificate, key)
    for other in ((content + b" ", certificate), (content, certificate + b" ")):
        with pytest.raises(InvalidInput, match="another document"):
            check_signature(signature, *other)
    with pytest.raises(InvalidInput, match="another key"):
        check_signature(signature, content, certificate, public_key="ab" * 32)
