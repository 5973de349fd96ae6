"""What an owner is told before giving a wear, whoever else is there."""

import pytest

from server.core.errors import Conflict, NotFound
from server.groups.services import change_protocol, join_group
from server.wears.cutoff import mark_admitted, mark_waiting_slot, show_states
from server.wears.disclosures import disclosure_for_owner
from server.wears.models import Wear

pytestmark = pytest.mark.django_db


def ask(wear, member, *, slug="harbour", has_published=False):
    return disclosure_for_owner(wear.pk, account=member.account, slug=slug, next_slot=1, has_published=has_published)


def test_the_groups_own_rules_are_told(contributor, upload, group, moderator):
    wear = upload(contributor)
    change_protocol(group, by=moderator.account, accepted_models=["demo-a14"])
    told = ask(wear, contributor)
    assert told.site == "thigh.front"
    assert {step.whose for step in told.steps} == {"group", "everyone"}
    assert {step.whose for step in ask(wear, contributor, slug="everyone").steps} == {"everyone"}


def test_a_room_and_its_waits_are_told(contributor, upload, group, moderator):
    change_protocol(group, by=moderator.account, room=True, editions_before_site_given_up=6)
    steps = ask(upload(contributor), contributor).steps
    assert {step.whose for step in steps} == {"everyone"}
    assert [step.after_editions for step in steps] == [0, 2, 6, 6]


def test_only_outcomes_that_the_wear_tells_are_named(contributor, upload):
    silent = upload(contributor, pairs=[], skin=None, ratings=None)
    assert [outcome.family for outcome in ask(silent, contributor).outcomes] == ["survival"]
    telling = upload(contributor)
    assert {"accuracy", "survival", "skin"} <= {outcome.family for outcome in ask(telling, contributor).outcomes}


def test_what_others_do_changes_nothing(contributor, upload, new_member, give, approve, group):
    wear = upload(contributor)
    before = ask(wear, contributor)
    for _ in range(6):
        other = new_member()
        join_group(group, account=other.account)
        approve(other)
    mark_waiting_slot(slot=1)
    assert ask(wear, contributor) == before


def test_somebody_elses_wear_is_none(contributor, stranger, upload):
    wear = upload(contributor)
    for slug in ("harbour", "nowhere"):
        with pytest.raises(NotFound, match="wear"):
            ask(wear, stranger, slug=slug)


def test_a_counted_wear_has_nothing_to_decide(contributor, approve):
    wear = approve(contributor)
    mark_waiting_slot(slot=1)
    mark_admitted([wear.pk], family="accuracy", end_bucket=24)
    ask(wear, contributor)  # nobody is told before the date has passed
    show_states()
    with pytest.raises(Conflict):
        ask(Wear.objects.get(pk=wear.pk), contributor)
