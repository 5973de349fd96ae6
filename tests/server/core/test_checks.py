from dataclasses import replace

import pytest
from django.db import DatabaseError

from server.core import rotation
from server.core.checks import (
    journal_lies_apart,
    no_key_is_missing,
    nobody_outside_sees_debugging,
    operator_is_named,
)


def test_on_loopback_nobody_need_be_named(settings):
    settings.PUBLIC = False
    assert operator_is_named(None) == []


def test_a_public_start_needs_every_particular(settings):
    settings.PUBLIC = True
    settings.OPERATOR = settings.OPERATOR | {"controller": "A Society", "contact": "post@society.example"}
    faults = operator_is_named(None)
    assert [fault.level for fault in faults] == [40, 40, 40]
    assert {word for fault in faults for word in fault.msg.split() if word.startswith("COMMONWEAR_")} == {
        "COMMONWEAR_COUNTRY",
        "COMMONWEAR_LEGAL_BASIS",
        "COMMONWEAR_MINORS",
    }


@pytest.mark.django_db
def test_a_start_is_refused_without_a_key_that_marks_were_made_under(settings, new_member):
    first = settings.KEYS
    settings.KEYS = replace(first, mac_keys=(*first.mac_keys, "77" * 32))
    assert no_key_is_missing(None) == []
    new_member()
    assert no_key_is_missing(None) == []
    settings.KEYS = first
    assert [fault.id for fault in no_key_is_missing(None)] == ["commonwear.E010"]


def test_a_database_without_tables_has_no_marks(monkeypatch):
    def fails():
        raise DatabaseError

    monkeypatch.setattr(rotation, "newest_in_use", fails)
    assert no_key_is_missing(None) == []


def test_a_journal_beside_the_database_is_warned_of_in_public(settings, tmp_path):
    settings.DATA_DIR = tmp_path / "data"
    settings.ERASURE_JOURNAL = tmp_path / "data" / "inner" / "erasures.journal"
    assert journal_lies_apart(None) == []
    settings.PUBLIC = True
    assert [warning.id for warning in journal_lies_apart(None)] == ["commonwear.W011"]
    settings.ERASURE_JOURNAL = tmp_path / "elsewhere" / "erasures.journal"
    assert journal_lies_apart(None) == []


@pytest.mark.parametrize(
    ("public", "debug", "refused"), [(True, True, True), (True, False, False), (False, True, False)]
)
def test_a_public_start_with_debugging_is_refused(settings, public, debug, refused):
    settings.PUBLIC, settings.DEBUG = public, debug
    faults = nobody_outside_sees_debugging(None)
    assert [fault.is_serious() for fault in faults] == [True] * refused
