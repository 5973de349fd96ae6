"""A parent of two children: a wear of one of them is brought in, read, given and taken back; no name goes anywhere."""

from datetime import date

import pytest

from server.accounts.models import Holding, Wearer
from server.accounts.services import add_wearer
from tests.journeys.test_bringing import check, enter, member, tell_about  # noqa: F401
from tests.server.records import A_CHILD

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def children(member):  # noqa: F811
    months = (date(2041, 3, 1), date(2044, 9, 1))
    return [add_wearer(member.account, **A_CHILD | {"of_age_month": month}) for month in months]


def test_a_wear_of_one_child_goes_there_and_back(visit, member, children):  # noqa: F811
    page, sent = visit.page, []
    page.on("request", lambda request: sent.append(request.url + str(request.post_data_buffer)))
    enter(page, visit.address, member)
    visit.open("/account/wearers/")
    assert page.get_by_text("Forms say: my child, of age from September 2044").is_visible()
    check(visit, "parent-wearers")
    visit.open("/wears/new/typed/")
    page.get_by_label("On day 1 it was put on at").fill("08:30")
    for name, value in (("Day", 1), ("Time", "11:00"), ("Fingerstick", 112), ("Sensor", 98)):
        page.get_by_label(f"{name}, pair 1", exact=True).fill(str(value))
    page.get_by_role("button", name="Go on").click()
    page.get_by_label("my child, of age from September 2044").check()
    tell_about(page)
    page.get_by_label("Worn for: days").fill("3")
    check(visit, "parent-about")
    page.get_by_role("button", name="See all that will be stored").click()
    check(visit, "parent-check")
    page.get_by_role("button", name="Store it and read the report").click()
    assert page.get_by_text("What one wear cannot say").is_visible()
    check(visit, "parent-wear")
    assert Holding.objects.get().wearer == children[1]
    page.get_by_role("link", name="Give it to a group").click()
    page.get_by_label("Harbour").check()
    page.get_by_role("button", name="What could anyone learn about me?").click()
    check(visit, "parent-give")
    page.get_by_role("button", name="Give it to Harbour").click()
    page.get_by_role("link", name="Take it back").click()
    page.get_by_role("button", name="Take it back").click()
    assert page.get_by_text("It is yours alone again").is_visible()
    # Nothing asks for a name: no field of a person takes words, and the wear says nothing of which child it was.
    assert {field.name for field in Wearer._meta.concrete_fields} == {
        "id", "account", "relation", "age_class", "of_age_month",
    }  # fmt: skip
    kept = [one for one in sent if "/keep/" in one]
    assert kept
    assert "2044" not in "".join(kept)
