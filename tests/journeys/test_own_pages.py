"""Every further page of somebody who is signed in: it fits, breaks no rule of access, and says what it does first."""

import pytest

from server.curation import services as curation
from server.wears.selectors import wears_of
from server.wears.services import accept_upload, give_to_group
from tests.journeys.test_bringing import check, enter, member  # noqa: F401
from tests.server.records import raw
from tests.server.releasing import release

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_further_pages(visit, member, group, moderator):  # noqa: F811
    account = member.account
    for seed, site in ((1, "thigh.front"), (2, "upper_arm.back")):
        accept_upload(raw(seed=seed, site=site), account=account, wearer=account.wearers.get())
    wear = wears_of(account)[0]
    give_to_group(wear.pk, account=account, group=group)
    release(wear.pk)
    curation.ask_owner(group, wear.pk, question="site", by=moderator.account)
    page = visit.page
    enter(page, visit.address, member)
    check(visit, "wears-two")
    for box in page.get_by_role("checkbox").all():
        box.check()
    page.get_by_role("button", name="side by side").click()
    check(visit, "beside")
    for path, name in (
        (f"/wears/{wear.pk}/", "wear-asked"),
        (f"/wears/{wear.pk}/answer/", "answer"),
        (f"/wears/{wear.pk}/erase/", "erase"),
        ("/my-groups/harbour/leave/", "leave"),
        ("/account/agreed/keep/", "switch"),
        ("/account/password/", "password"),
        ("/account/recovery-codes/", "new-codes"),
        ("/wears/new/sensor-model/", "propose"),
        ("/closed/", "closed"),
    ):
        visit.open(path)
        check(visit, name)
    visit.open("/wears/next/")
    page.get_by_label("calf").check()
    page.get_by_role("button", name="Work it out").click()
    assert page.get_by_role("heading", name="Your own estimate").is_visible()
    check(visit, "expect")
