"""HMAC-SHA-256 against the published test case; the rest is this project's own chaining rule."""

import hashlib
import hmac
from dataclasses import replace

from server.core import keys


def test_the_primitive_is_hmac_sha_256():
    # RFC 4231, test case 2.
    expected = "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"
    assert hmac.digest(b"Jefe", b"what do ya want for nothing?", hashlib.sha256).hex() == expected


def test_a_mark_belongs_to_its_purpose_and_its_value():
    marks = {keys.mac("ledger", b"one"), keys.mac("ledger", b"two"), keys.mac("atom", b"one")}
    assert len(marks) == 3
    assert {len(mark) for mark in marks} == {16}
    assert keys.mac("ledger", b"one") in marks


def test_a_stored_mark_can_be_carried_to_a_new_key_without_its_value(settings):
    old = keys.mac("spent", b"a wear")
    settings.KEYS = replace(settings.KEYS, mac_keys=(*settings.KEYS.mac_keys, "a7" * 32))
    assert keys.key_version() == 2
    assert keys.mac("spent", b"a wear") == keys.wrap("spent", old, version=2) != old


def test_marks_of_many_values_are_those_of_each(settings):
    values = [b"a wear", b"", b"another"]
    for n_keys in (1, 2):
        settings.KEYS = replace(settings.KEYS, mac_keys=("a7" * 32, "b8" * 32)[:n_keys])
        each = [keys.marks("spent", value, n_bytes=8) for value in values]
        joined = keys.joined_marks("spent", iter(values), n_bytes=8)
        assert joined == [b"".join(own) for own in zip(*each, strict=True)]


def test_other_keys_give_other_marks(settings):
    before = keys.mac("spent", b"a wear")
    settings.KEYS = replace(settings.KEYS, mac_keys=("a7" * 32,))
    assert keys.mac("spent", b"a wear") != before
