"""Looks are noted, limited, counted by the month, and forgotten on their date."""

import io
import json
from datetime import date, timedelta
from uuid import uuid4

import pytest
from django.core.management import call_command

from server.core.errors import TooMany
from server.curation import looks, selectors
from server.curation.models import Decision, Look
from server.curation.services import approve_wear
from tests.conftest import START

pytestmark = pytest.mark.django_db


def test_a_look_is_noted_once_a_day_under_marks_that_lead_nowhere(give, contributor, group, moderator, clock):
    wear = give(contributor)
    for _ in range(2):
        selectors.wear_for_moderator(group, wear.id, account=moderator.account)
    look = Look.objects.get()
    assert look.on_day == START
    approve_wear(group, wear.id, by=moderator.account)
    told = Decision.objects.get()
    assert not {look.wear_mark, look.moderator_mark} & {told.wear_mark, told.moderator_mark}
    clock.set(START + timedelta(days=1))
    looks.note_look(wear.id, by=moderator.account)
    assert Look.objects.count() == 2


def test_listing_is_no_look_and_who_is_not_shown_a_wear_has_not_looked(give, contributor, group, moderator, stranger):
    wear = give(contributor)
    selectors.queue_for_moderator(group, account=moderator.account)
    for somebody in (contributor, stranger):
        with pytest.raises(Exception, match=r"moderator|no such group"):
            selectors.wear_for_moderator(group, wear.id, account=somebody.account)
    assert not Look.objects.exists()


def test_a_day_has_its_number_of_wears_for_each_moderator(moderator, stranger, monkeypatch, clock):
    monkeypatch.setattr(looks, "MOST_WEARS_A_DAY", 3)
    wears = [uuid4() for _ in range(4)]
    for wear in wears[:3]:
        looks.note_look(wear, by=moderator.account)
    with pytest.raises(TooMany) as refused:
        looks.note_look(wears[3], by=moderator.account)
    assert 0 < refused.value.retry_after_s <= looks.DAY_S
    looks.note_look(wears[0], by=moderator.account)
    looks.note_look(wears[3], by=stranger.account)
    clock.set(START + timedelta(days=1))
    looks.note_look(wears[3], by=moderator.account)


def test_an_owner_is_told_how_many_looked_before_this_month(moderator, stranger, clock):
    wear = uuid4()
    for day in (START, START + timedelta(days=1)):
        clock.set(day)
        for one in (moderator, stranger):
            looks.note_look(wear, by=one.account)
    assert looks.n_moderators_who_looked(wear) == 0
    clock.set(date(2031, 3, 1))
    assert (looks.n_moderators_who_looked(wear), looks.n_moderators_who_looked(uuid4())) == (2, 0)


def test_the_operator_reads_days_and_numbers(moderator, clock):
    for wear in (uuid4(), uuid4()):
        looks.note_look(wear, by=moderator.account)
    clock.set(START + timedelta(days=1))
    looks.note_look(uuid4(), by=moderator.account)
    (later, mark, one), (first, same, two) = looks.looks_by_day()
    assert (later - first, mark == same, one, two) == (timedelta(days=1), True, 1, 2)
    assert str(moderator.account.id) not in mark
    printed = io.StringIO()
    call_command("looks", "--json", stdout=printed)
    assert [row["n_wears"] for row in json.loads(printed.getvalue())] == [1, 2]


def test_looks_are_forgotten_on_their_date(moderator):
    looks.note_look(uuid4(), by=moderator.account)
    assert looks.forget_looks(START + timedelta(days=looks.DAYS_KEPT)) == 0
    assert looks.forget_looks(START + timedelta(days=looks.DAYS_KEPT + 1)) == 1
