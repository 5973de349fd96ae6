"""The auditor's certificate for one document."""

import json

import pytest

from pooling.edition import sha256_hex
from pooling.edition.certificate import certificate_bytes
from pooling.errors import InvalidInput


def test_it_is_for_one_document_and_says_by_which_rule(document, content):
    certificate = json.loads(certificate_bytes(content, auditor_version=3))
    assert certificate["edition"] == {
        "group": "hill-walkers", "number": 7, "cut_off": "2026-07-01", "sha256": sha256_hex(content)
    }  # fmt: skip
    assert (certificate["auditor_version"], certificate["passed"], certificate["k"]) == (3, True, 5)
    assert certificate["rule"] == document["audit"]["rule"]


def test_it_tells_no_number_more_finely_than_the_document(document, content):
    certificate = json.loads(certificate_bytes(content, auditor_version=1))
    assert certificate["records"] == document["audit"]["records"] == {"at_least": 100, "below": 200}
    numbers = [value for value in certificate.values() if isinstance(value, int) and not isinstance(value, bool)]
    assert sorted(numbers) == [1, 5]


def test_no_certificate_for_what_is_no_edition():
    with pytest.raises(InvalidInput):
        certificate_bytes(b"{}", auditor_version=1)
