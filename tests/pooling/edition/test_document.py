"""Canonical bytes, identity and look-ups."""

import json
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pooling.edition import document as doc
from pooling.errors import InvalidInput


class TestCanonicalBytes:
    def test_the_example_of_the_standard(self):
        # RFC 8785, section 3.2.3: names sort by UTF-16 code units.
        names = {"\u20ac": 1, "\r": 2, "\ufb33": 3, "1": 4, "\U0001f600": 5, "\u0080": 6, "\u00f6": 7}
        order = list(json.loads(doc.canonical_bytes(names)))
        assert order == ["\r", "1", "\u0080", "\u00f6", "\u20ac", "\U0001f600", "\ufb33"]

    def test_numbers_are_written_the_short_way(self):
        # RFC 8785, section 3.2.2.3 (ECMAScript's number serialisation).
        assert doc.canonical_bytes({"a": [10.0, 0.25, -0.0, 0.002]}) == b'{"a":[10,0.25,0,0.002]}'

    def test_equal_documents_give_equal_bytes(self, document):
        shuffled = json.loads(json.dumps(document, sort_keys=True))
        assert doc.canonical_bytes(shuffled) == doc.canonical_bytes(document)
        assert doc.canonical_bytes(json.loads(doc.canonical_bytes(document))) == doc.canonical_bytes(document)

    @pytest.mark.parametrize("bad", [float("nan"), float("inf"), 0.1 + 0.2, 1 / 3, Decimal("0.1"), {1, 2}, 2**60, 1e21])
    def test_what_has_no_place_in_a_document_is_refused(self, bad):
        with pytest.raises(InvalidInput):
            doc.canonical_bytes({"value": bad})

    @given(st.decimals(min_value=-1000, max_value=1000, places=3, allow_nan=False))
    def test_a_decimal_survives_writing_and_reading(self, number):
        raw = doc.canonical_bytes({"value": doc.json_number(number)})
        assert Decimal(repr(json.loads(raw)["value"])) == number


def test_identity():
    # FIPS 180-4 test vector: SHA-256 of "abc".
    assert doc.sha256_hex(b"abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


class TestReading:
    def test_what_was_written_is_read(self, document):
        raw = doc.canonical_bytes(document)
        assert doc.read_document(raw, sha256=doc.sha256_hex(raw).upper()) == document

    def test_another_hash_is_refused(self, document):
        raw = doc.canonical_bytes(document)
        with pytest.raises(InvalidInput, match="SHA-256"):
            doc.read_document(raw.replace(b"7", b"8", 1), sha256=doc.sha256_hex(raw))

    @pytest.mark.parametrize(
        ("raw", "words"),
        [
            (b"\xff", "JSON in UTF-8"),
            (b"{", "JSON in UTF-8"),
            (b"[]", "format edition/1"),
            (b'{"format":"edition/2"}', "format edition/1"),
            (b'{"format": "edition/1"}', "canonical"),
            (b'{"a":1.0,"format":"edition/1"}', "canonical"),
            (b'{"format":"edition/1","format":"edition/1"}', "canonical"),
        ],
    )
    def test_other_bytes_are_refused(self, raw, words):
        with pytest.raises(InvalidInput, match=words):
            doc.read_document(raw)


class TestLookups:
    def test_a_site_over_models_and_for_one(self, document):
        assert doc.site_row(document, "upper_arm.back")["sensor_model"] is None
        assert doc.site_row(document, "upper_arm.back", "demo-b10")["sensor_model"] == "demo-b10"

    def test_a_region_has_its_own_row(self, document):
        assert doc.site_row(document, "abdomen")["site"] is None
        assert doc.site_row(document, "abdomen.front")["site"] == "abdomen.front"

    def test_hidden_empty_and_unknown_look_alike(self, document):
        assert {str(doc.site_row(document, place)) for place in ("forearm", "buttock", "elbow")} == {"None"}
        assert doc.site_row(document, "chest", "demo-b10") is None

    def test_a_contrast(self, document):
        assert doc.contrast_row(document, "thigh.front", "upper_arm.back")["primary"] is True
        assert doc.contrast_row(document, "upper_arm.back", "thigh.front") is None
        assert doc.contrast_row(document, "abdomen.front", "upper_arm.back", "demo-a14") is not None

    def test_an_edition_older_than_a_table_has_no_rows_in_it(self, document):
        del document["tables"]["survival"]
        assert doc.table_rows(document, "survival") == []

    def test_no_such_table(self, document):
        with pytest.raises(InvalidInput, match="no such table"):
            doc.table_rows(document, "people")
