import re

import pytest

from server.groups.invitations import open_invitations
from server.groups.models import Membership, Role
from server.groups.selectors import members_of, role_of
from server.groups.services import join_by_slug
from tests.server.web.test_sign_in import words

pytestmark = pytest.mark.django_db


@pytest.fixture
def by_invitation(group):
    group.public = False
    group.save()
    return group


def people_of(group):
    return f"/groups/{group.slug}/moderate/people/"


def test_an_invitation_is_shown_once_and_lets_somebody_in(browser_of, moderator, stranger, by_invitation, group):
    answer = browser_of(moderator).post(people_of(group), {"uses": "2"})
    code = re.search(r"<code>([\w-]{24})</code>", answer.content.decode())[1]
    assert "It lets 2 people in" in words(answer)
    assert code not in browser_of(moderator).get(people_of(group)).content.decode()
    join_by_slug(group.slug, account=stranger.account, invitation=code)
    assert role_of(stranger.account, group) == "member"


def test_an_invitation_can_be_ended(browser_of, moderator, by_invitation, group):
    browser = browser_of(moderator)
    browser.post(people_of(group), {"uses": "1"})
    invitation = open_invitations(group, account=moderator.account)[0]
    browser.post(f"{people_of(group)}invitations/{invitation.id}/")
    assert open_invitations(group, account=moderator.account) == []


def test_a_number_beyond_four_is_refused(browser_of, moderator, by_invitation, group):
    answer = browser_of(moderator).post(people_of(group), {"uses": "5"})
    assert (answer.status_code, open_invitations(group, account=moderator.account)) == (422, [])


def test_a_member_becomes_a_moderator(browser_of, moderator, contributor, group):
    theirs = Membership.objects.get(group=group, account=contributor.account)
    browser_of(moderator).post(f"{people_of(group)}{theirs.id}/role/", {"role": "moderator"})
    theirs.refresh_from_db()
    assert theirs.role == Role.MODERATOR


def test_the_last_moderator_stays(browser_of, moderator, group):
    theirs = Membership.objects.get(group=group, account=moderator.account)
    answer = browser_of(moderator).post(f"{people_of(group)}{theirs.id}/role/", {"role": "member"})
    assert answer.status_code == 409
    assert len(members_of(group, account=moderator.account)) > 0


def test_no_sign_in_name_stands_on_the_page(browser_of, moderator, contributor, group):
    shown = browser_of(moderator).get(people_of(group)).content.decode()
    assert contributor.sign_in_name not in shown
    assert str(contributor.account.id) not in shown
