"""The chain of entries, and the marks that stand in them."""

import pytest
from django.db import connection

from server.curation import record
from server.curation.models import Action, Decision
from server.curation.services import approve_wear, exclude_wear

pytestmark = pytest.mark.django_db


def test_the_record_is_a_chain_that_shows_a_later_change(give, contributor, group, moderator):
    for seed in range(3):
        exclude_wear(group, give(contributor, seed=seed).id, code="copied", by=moderator.account)
    assert record.chain_is_whole(group)
    with connection.cursor() as cursor:
        cursor.execute(f"UPDATE {Decision._meta.db_table} SET code = 'stuck' WHERE number = 2")
    assert not record.chain_is_whole(group)


def test_a_decision_left_out_of_the_record_is_missed(give, contributor, group, moderator):
    for seed in range(2):
        approve_wear(group, give(contributor, seed=seed).id, by=moderator.account)
    with connection.cursor() as cursor:
        cursor.execute(f"DELETE FROM {Decision._meta.db_table} WHERE number = 1")
    assert not record.chain_is_whole(group)


def test_one_moderator_is_one_mark_and_two_are_two(moderator, contributor):
    assert record.moderator_mark(moderator.account) == record.moderator_mark(moderator.account)
    assert record.moderator_mark(moderator.account) != record.moderator_mark(contributor.account)


def test_an_owner_leaves_no_mark_that_would_join_their_wears(give, contributor, group):
    entries = [
        record.append(
            group, give(contributor, seed=seed).id, action=Action.ANSWER, code="confirmed", protocol_version=1
        )
        for seed in (1, 2)
    ]
    first, second = (set(Decision.objects.filter(pk=entry.pk).values_list("wear_mark", flat=True)) for entry in entries)
    assert {entry.moderator_mark for entry in entries} == {""}
    assert not first & second


def test_entries_about_a_wear_are_its_own_in_one_group_alone(give, contributor, group, moderator):
    first, second = (give(contributor, seed=seed) for seed in (1, 2))
    for wear in (first, second, first):
        record.append(group, wear.id, action=Action.ANSWER, code="confirmed", protocol_version=1)
    assert [entry.number for entry in record.entries_about(group, first.id)] == [1, 3]
    assert record.wear_mark(group, first.id) != record.wear_mark(group, second.id)
