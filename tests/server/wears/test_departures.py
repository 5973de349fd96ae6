import pytest

from server.accounts.models import Holding
from server.accounts.services import close_account, record_consent
from server.accounts.signals import account_closing
from server.groups.models import Membership
from server.groups.selectors import is_member
from server.groups.services import leave_group
from server.wears.cutoff import mark_admitted, mark_waiting_slot
from server.wears.models import Wear, WearPairs, WearSummary
from server.wears.transitions import State

pytestmark = pytest.mark.django_db


def test_whoever_leaves_a_group_takes_what_waits_there_along(give, upload, contributor, group):
    given, kept = give(contributor, seed=1), upload(contributor, seed=2)
    leave_group(group, account=contributor.account)
    given.refresh_from_db()
    assert (given.state, given.group_id) == (State.PRIVATE, None)
    assert Wear.objects.filter(pk=kept.pk, state=State.PRIVATE).exists()


def test_with_the_account_go_its_wears_and_nobody_elses(give, contributor, moderator):
    give(contributor, seed=1)
    others = give(moderator, seed=2)
    close_account(contributor.account)
    for model in (Wear, WearPairs, WearSummary, Holding):
        assert model.objects.count() == 1
    assert Wear.objects.get().pk == others.pk


def test_a_closing_that_fails_half_way_leaves_everything_as_it_was(give, contributor, group):
    def fail(**_):
        raise RuntimeError

    wear = give(contributor)
    account_closing.connect(fail)
    try:
        with pytest.raises(RuntimeError):
            close_account(contributor.account)
    finally:
        account_closing.disconnect(fail)
    assert WearPairs.objects.filter(wear=wear).exists()
    assert is_member(group, contributor.account)


def test_what_was_counted_goes_with_the_account_too(approve, contributor, group):
    wear = approve(contributor)
    mark_waiting_slot(slot=1)
    mark_admitted([wear.id], family="accuracy", end_bucket=24)
    close_account(contributor.account)
    assert not Wear.objects.exists()
    assert not Membership.objects.filter(group=group, role="member").exists()
    assert Membership.objects.filter(group=group, role="moderator").exists()


def test_whoever_turns_the_pool_off_is_seen_by_no_moderator_any_more(give, approve, contributor, moderator, group):
    waiting = (give(contributor, seed=1), approve(contributor, seed=2), give(moderator, seed=3))
    record_consent(contributor.account, scope="pool", given=False, text_version=1)
    states = [Wear.objects.get(pk=wear.pk).state for wear in waiting]
    assert states == [State.PRIVATE, State.PRIVATE, State.QUEUED]
    address = f"/api/v1/groups/{group.slug}/curation/{waiting[0].pk}/"
    assert moderator.api.get(address).status_code == 404
