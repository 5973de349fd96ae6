"""Once counted, a wear and its copies are known for good, under whichever key, and by numbers that tell nothing."""

from dataclasses import replace
from uuid import UUID

import pytest

from server.core import keys
from server.core.errors import Conflict
from server.editions.models import SpentMarks
from server.editions.spent import carry_spent, spend, unspent
from tests.server.editions.marks import spent_marks

pytestmark = pytest.mark.django_db
FAMILY = "accuracy"
FIRST, SECOND, THIRD = (UUID(int=number) for number in (1, 2, 3))
WEAR, COPY, OTHER = (1, 2, 3, -4), (9, 2, 8, 7), (5, 6, -7, 10)


def spend_wears(*bands):
    """As a cut-off counts them: each looked up by itself, whatever the others are."""
    spend(marks for own in bands for marks in unspent({FIRST: own}, family=FAMILY).values())


def fresh(waiting, *, family=FAMILY):
    return set(unspent(waiting, family=family))


def test_a_copy_of_what_was_spent_is_not_fresh():
    waiting = {FIRST: WEAR, SECOND: OTHER, THIRD: COPY}
    assert fresh(waiting) == {FIRST, SECOND}
    spend_wears(WEAR)
    assert fresh(waiting) == {SECOND, THIRD} - {THIRD}


def test_of_copies_that_wait_the_first_id_goes():
    assert fresh({SECOND: WEAR, FIRST: COPY}) == {FIRST}


def test_wears_that_cannot_be_told_apart_are_each_their_own():
    spend_wears((), ())
    assert fresh({FIRST: (), SECOND: ()}) == {FIRST, SECOND}


def test_a_wear_spent_in_one_family_is_fresh_in_another():
    spend_wears(WEAR)
    assert fresh({FIRST: WEAR}, family="survival") == {FIRST}


def test_the_bands_themselves_are_not_stored_and_two_wears_may_share_one():
    spend_wears(WEAR, COPY)
    stored = spent_marks()
    assert len(stored) == len({*WEAR, *COPY})
    assert not stored & {band.to_bytes(8, signed=True) for band in (*WEAR, *COPY)}
    spend_wears(WEAR)
    assert spent_marks() == stored


def test_marks_made_under_an_older_key_are_known_and_new_ones_are_of_the_newest(settings):
    spend_wears(WEAR)
    settings.KEYS = replace(settings.KEYS, mac_keys=(*settings.KEYS.mac_keys, "a7" * 32))
    assert fresh({FIRST: WEAR, SECOND: OTHER}) == {SECOND}
    spend_wears(OTHER)
    assert set(SpentMarks.objects.values_list("key_version", flat=True)) == {1, keys.key_version()}
    assert fresh({FIRST: WEAR, SECOND: OTHER}) == set()


def test_marks_are_packed_in_ascending_order_so_that_none_stands_beside_the_others_of_its_wear():
    """After two cut-offs as after one: what came when is not to be read from a row either."""
    spend_wears(tuple(range(100)))
    spend_wears(tuple(range(1_000, 1_100)))
    rows = [bytes(row.numbers) for row in SpentMarks.objects.all()]
    marks = [[row[start : start + 8] for start in range(0, len(row), 8)] for row in rows]
    assert sum(map(len, marks)) == len(spent_marks()) == 200
    assert all(own == sorted(own) and len({mark[0] for mark in own}) == 1 for own in marks)


def test_what_is_carried_to_a_new_key_joins_what_was_made_under_it(settings):
    spend_wears(WEAR)
    before = settings.KEYS
    settings.KEYS = replace(settings.KEYS, mac_keys=(*settings.KEYS.mac_keys, "a7" * 32))
    spend_wears(OTHER)
    assert carry_spent() == len(WEAR)
    assert carry_spent() == 0
    carried = spent_marks()
    assert len(carried) == len(WEAR) + len(OTHER)
    assert fresh({FIRST: WEAR, SECOND: OTHER}) == set()
    settings.KEYS = before
    with pytest.raises(Conflict, match="start it again"):
        unspent({FIRST: WEAR}, family=FAMILY)
