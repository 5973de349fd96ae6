import pytest

from server.groups.invitations import make_invitation
from server.groups.models import Group
from server.groups.selectors import is_member
from server.wears.models import Wear
from server.wears.services import accept_upload, give_to_group
from tests.server.records import raw
from tests.server.web.test_sign_in import words

pytestmark = pytest.mark.django_db


def test_an_open_group_is_joined_and_left(browser_of, stranger, group):
    browser = browser_of(stranger)
    assert "Join Harbour" in words(browser.get("/my-groups/"))
    assert browser.post("/my-groups/harbour/join/")["Location"] == "/my-groups/"
    assert is_member(group, stranger.account)
    assert "Leave Harbour" in words(browser.get("/my-groups/"))
    assert "none of your wears there has been counted" in words(browser.get("/my-groups/harbour/leave/"))
    assert browser.post("/my-groups/harbour/leave/")["Location"] == "/my-groups/"
    assert not is_member(group, stranger.account)


def test_a_closed_one_is_joined_by_invitation_and_otherwise_not_there(browser_of, stranger, group, moderator):
    Group.objects.filter(pk=group.pk).update(public=False)
    group.refresh_from_db()
    browser = browser_of(stranger)
    assert "Harbour" not in words(browser.get("/my-groups/"))
    assert browser.post("/my-groups/harbour/join/").status_code == 404
    code = make_invitation(group, by=moderator.account).code
    answers = [
        browser.post("/my-groups/", {"slug": slug, "invitation": typed})
        for slug, typed in (("harbour", "no-such-code"), ("no-such", code))
    ]
    assert [answer.status_code for answer in answers] == [422, 422]
    assert all("no such group" in words(answer) for answer in answers)
    assert browser.post("/my-groups/", {"slug": "harbour", "invitation": f" {code} "}).status_code == 302
    assert is_member(group, stranger.account)


def test_leaving_takes_back_what_waits_and_says_so_before(browser_of, contributor, group, catalogue):
    wear = accept_upload(raw(), account=contributor.account, wearer=contributor.account.wearers.get()).wear
    give_to_group(wear.pk, account=contributor.account, group=group)
    browser = browser_of(contributor)
    assert "One wear of yours that waits there is taken back" in words(browser.get("/my-groups/harbour/leave/"))
    browser.post("/my-groups/harbour/leave/")
    assert Wear.objects.get(pk=wear.pk).state == "private"


def test_a_group_that_one_does_not_belong_to_cannot_be_left(browser_of, stranger, group):
    assert browser_of(stranger).get("/my-groups/harbour/leave/").status_code == 404


def test_the_page_asks_the_database_little(browser_of, contributor, django_assert_max_num_queries):
    browser = browser_of(contributor)
    browser.get("/")
    with django_assert_max_num_queries(5):
        browser.get("/my-groups/")


def test_members_read_the_page_of_a_closed_group_and_nobody_else_does(client, browser_of, contributor, group):
    Group.objects.filter(pk=group.pk).update(public=False)
    assert client.get("/groups/harbour/").status_code == 404
    assert browser_of(contributor).get("/groups/harbour/").status_code == 200


def test_moderators_find_the_way_to_their_work(browser_of, moderator, contributor, group):
    door = f"/groups/{group.slug}/moderate/"
    assert door in browser_of(moderator).get("/my-groups/").content.decode()
    assert door not in browser_of(contributor).get("/my-groups/").content.decode()
