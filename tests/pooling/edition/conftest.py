"""An edition as it is published: bytes, the auditor's certificate, the operator's key."""

from functools import lru_cache

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from pooling.edition import canonical_bytes
from pooling.edition.certificate import certificate_bytes
from pooling.edition.package import package_bytes
from pooling.edition.signature import sign_edition


@pytest.fixture
def content(document):
    return canonical_bytes(document)


@pytest.fixture
def certificate(content):
    return certificate_bytes(content, auditor_version=1)


@pytest.fixture
def key():
    return Ed25519PrivateKey.from_private_bytes(bytes(range(32)))


_packed = lru_cache(package_bytes)


class Signed(dict):
    """A signature that can be remembered by its text."""

    def __hash__(self):
        return hash(tuple(self.items()))


@pytest.fixture
def package(content, certificate, key):
    return _packed(content, certificate, Signed(sign_edition(content, certificate, key)))
