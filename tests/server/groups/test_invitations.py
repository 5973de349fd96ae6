from datetime import date, timedelta

import pytest

from server.core import jobs
from server.core.errors import Conflict, Forbidden, Invalid, NotFound
from server.groups import invitations
from server.groups.invitations import MOST_INVITED_AN_INTERVAL, MOST_USES, make_invitation
from server.groups.models import Group, Invitation, InvitedTally, Membership
from server.groups.services import appoint_moderator, found_group, join_group

pytestmark = pytest.mark.django_db


@pytest.fixture
def cellar(moderator, clock, settings):
    """A group that is joined by invitation, as groups are unless their founder says otherwise."""
    settings.FIRST_CUT_OFF = date(2031, 1, 15)
    return found_group(founder=moderator.account, slug="cellar", name="Cellar", feeds_everyone=False, wearers="mixed")


@pytest.fixture
def joins(cellar, new_member):
    return lambda code: join_group(cellar, account=new_member().account, invitation=code)


def test_a_group_is_joined_by_invitation_unless_it_is_founded_public(cellar):
    assert not cellar.public
    assert Group._meta.get_field("public").default is False


def test_a_code_serves_as_many_accounts_as_it_says(cellar, moderator, joins):
    made = make_invitation(cellar, by=moderator.account, uses=2)
    joins(made.code)
    joins(made.code)
    with pytest.raises(NotFound):
        joins(made.code)
    assert not Invitation.objects.exists()


@pytest.mark.parametrize("uses", [0, MOST_USES + 1])
def test_no_code_lets_in_a_crowd(cellar, moderator, uses):
    with pytest.raises(Invalid) as refused:
        make_invitation(cellar, by=moderator.account, uses=uses)
    assert refused.value.faults[0]["pointer"] == "#/uses"
    assert MOST_USES < 5  # the fewest people behind any figure


def test_a_code_serves_until_the_end_of_the_next_month(cellar, moderator, joins, clock):
    made = make_invitation(cellar, by=moderator.account, uses=3)
    assert made.expires_on == date(2031, 4, 1)
    clock.set(date(2031, 3, 31))
    joins(made.code)
    clock.set(date(2031, 4, 1))
    with pytest.raises(NotFound):
        joins(made.code)
    jobs.sweepers()["expired invitations dropped"](date(2031, 4, 1))
    assert not Invitation.objects.exists()


def test_joining_again_uses_nothing_up(cellar, moderator, joins):
    made = make_invitation(cellar, by=moderator.account)
    join_group(cellar, account=moderator.account, invitation=made.code)
    joins(made.code)


def fill(cellar, by, joins, n):
    for _ in range(n):
        joins(make_invitation(cellar, by=by).code)


def test_one_moderator_lets_in_so_many_between_two_cut_offs(cellar, moderator, joins, clock, new_member):
    clock.set(date(2031, 2, 15))  # a cut-off
    fill(cellar, moderator.account, joins, MOST_INVITED_AN_INTERVAL)
    clock.set(date(2031, 3, 14))  # the day before the next
    spare = make_invitation(cellar, by=moderator.account)
    with pytest.raises(Conflict, match="next date"):
        joins(spare.code)
    other = new_member()
    appoint_moderator(cellar, account=other.account)
    fill(cellar, other.account, joins, 1)
    clock.set(date(2031, 3, 15))
    joins(spare.code)
    assert Membership.objects.filter(group=cellar).count() == 2 + MOST_INVITED_AN_INTERVAL + 2


def test_refused_joiners_use_nothing_up(cellar, moderator, joins, monkeypatch):
    monkeypatch.setattr(invitations, "MOST_INVITED_AN_INTERVAL", 0)
    made = make_invitation(cellar, by=moderator.account)
    with pytest.raises(Conflict):
        joins(made.code)
    monkeypatch.undo()
    joins(made.code)


def test_what_is_counted_names_nobody_and_goes_with_the_next_cut_off(cellar, moderator, joins, clock):
    made = make_invitation(cellar, by=moderator.account, uses=2)
    joins(made.code)
    stored = str([*Invitation.objects.values(), *InvitedTally.objects.values()])
    assert made.code not in stored
    ids = [account.hex for account in Membership.objects.values_list("account_id", flat=True)]
    assert not any(one in stored.replace("-", "") for one in ids)
    invitations.drop_expired(date(2031, 2, 14))
    assert InvitedTally.objects.count() == 1
    invitations.drop_expired(date(2031, 2, 15))
    assert not InvitedTally.objects.exists()


@pytest.mark.parametrize("day", [1, 15, 28])
def test_intervals_begin_with_cut_offs(settings, day):
    settings.FIRST_CUT_OFF = date(2031, 1, day)
    days = [date(2031, 2, day) + timedelta(days=n) for n in range(365)]
    begins = [each for each, before in zip(days[1:], days, strict=False) if interval(each) != interval(before)]
    assert [each.day for each in begins] == [day] * 11


def interval(day):
    return invitations.interval_of(day)


def test_invitations_are_made_by_moderators(cellar, moderator, joins, stranger):
    member = joins(make_invitation(cellar, by=moderator.account).code)
    with pytest.raises(Forbidden):
        make_invitation(cellar, by=member.account)
    with pytest.raises(NotFound):
        make_invitation(cellar, by=stranger.account)


def test_moderators_see_what_still_serves_and_not_the_codes(cellar, moderator, joins, new_member, clock):
    other = new_member()
    appoint_moderator(cellar, account=other.account)
    made = make_invitation(cellar, by=moderator.account, uses=3)
    make_invitation(cellar, by=other.account)
    joins(made.code)
    listed = invitations.open_invitations(cellar, account=moderator.account)
    assert {(each.uses_left, each.yours) for each in listed} == {(2, True), (1, False)}
    assert made.code not in str(listed)
    clock.set(date(2031, 4, 1))
    assert invitations.open_invitations(cellar, account=moderator.account) == []


def test_a_revoked_invitation_lets_nobody_in_and_who_came_by_it_stays(cellar, moderator, joins, group):
    made = make_invitation(cellar, by=moderator.account, uses=2)
    joins(made.code)
    listed = invitations.open_invitations(cellar, account=moderator.account)
    with pytest.raises(NotFound):
        invitations.revoke_invitation(group, listed[0].id, by=moderator.account)
    invitations.revoke_invitation(cellar, listed[0].id, by=moderator.account)
    with pytest.raises(NotFound):
        joins(made.code)
    assert Membership.objects.filter(group=cellar).count() == 2
    with pytest.raises(NotFound):
        invitations.revoke_invitation(cellar, listed[0].id, by=moderator.account)
