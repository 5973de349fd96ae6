"""Pages of fair tests: looked at before anything is kept, registered once, with days to print and a calendar file."""

import re

import pytest

from server.accounts.models import Plan
from server.accounts.services import add_wearer
from server.wears.services import accept_upload
from tests.server.records import A_CHILD, raw
from tests.server.web.test_sign_in import words

pytestmark = pytest.mark.django_db
NEW = "/plans/new/"


@pytest.fixture
def browser(browser_of, contributor, catalogue):
    return browser_of(contributor)


@pytest.fixture
def told(contributor):
    return {
        "wearer": str(contributor.account.wearers.get().pk),
        "sites": ["upper_arm.back", "calf"],
        "sensor_model": "demo-a14",
        "wears_per_site": "2",
        "pairs_per_wear": "",
        "daily_cap": "4",
        "waking_hours": "14",
        "design": "blocked",
    }


@pytest.fixture
def registered(browser, told):
    answer = browser.post(NEW, told | {"register": "1", "key": "a" * 32})
    return answer["Location"]


def test_what_it_would_show_is_said_and_nothing_is_kept(browser, told):
    page = words(browser.post(NEW, told))
    assert "4 wears, at least 56 days" in page
    assert "never more than 4 a day, none at night" in page
    assert "points of MARD between two of these sites would be seen" in page
    assert "wearing it there is off-label" in page
    assert not Plan.objects.exists()


def test_registered_once_however_often_it_is_sent(browser, told, registered):
    assert browser.post(NEW, told | {"register": "1", "key": "a" * 32})["Location"] == registered
    assert Plan.objects.count() == 1
    assert "calf · back of the upper arm; demo-a14" in words(browser.get("/plans/"))


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"sites": ["calf"]}, "Tick two to six sites"),
        ({"sensor_model": ""}, "Choose the sensor model"),
        ({"daily_cap": "11"}, "From 1 to 10"),
        ({"daily_cap": "1", "pairs_per_wear": "40"}, "has room for"),
        ({"wears_per_site": "x"}, "A whole number"),
    ],
)
def test_what_is_wrong_is_said_and_what_was_typed_stays(browser, told, changed, said):
    answer = browser.post(NEW, told | {"waking_hours": "13", "register": "1", "key": "c" * 32} | changed)
    assert (answer.status_code, said in words(answer)) == (422, True)
    page = answer.content.decode()
    assert re.search(r'value="calf" checked', page)
    assert re.search(r'name="waking_hours" value="13"', page)
    assert not Plan.objects.exists()


def test_a_wearer_is_ones_own(browser, told, stranger):
    answer = browser.post(NEW, told | {"wearer": str(stranger.account.wearers.get().pk), "register": "1"})
    assert (answer.status_code, Plan.objects.count()) == (422, 0)


def test_the_days_hold_every_fingerstick_and_never_more_than_the_cap(browser, registered):
    page = browser.get(registered).content.decode()
    plan = Plan.objects.get()
    counts = [int(n) for n in re.findall(r'<td class="number">(\d+)</td>', page)]
    assert sum(counts) == sum(len(wear["pricks"]) for wear in plan.content["wears"])
    assert max(counts) <= 4
    assert page.count('class="planned-wear"') == 4
    assert plan.token in page


def test_a_calendar_is_made_of_what_is_not_kept(browser, registered):
    answer = browser.post(registered, {"first_day": "2037-05-04", "wakes_at": "07:00"})
    assert answer["Content-Type"].startswith("text/calendar")
    assert answer["Cache-Control"] == "no-store"
    assert b"DTSTART:20370504T080000" in answer.content
    assert browser.post(registered, {"first_day": "soon", "wakes_at": "07:00"}).status_code == 422
    assert "2037" not in str(Plan.objects.values().get())


def test_a_plan_is_dropped_after_it_was_said_what_that_does(browser, registered):
    assert "stay drawn by lot" in words(browser.get(f"{registered}drop/"))
    assert browser.post(f"{registered}drop/")["Location"] == "/plans/"
    assert not Plan.objects.exists()


def test_nobody_elses(registered, browser_of, stranger):
    other = browser_of(stranger)
    assert {other.get(registered).status_code, other.post(f"{registered}drop/").status_code} == {404}
    assert Plan.objects.exists()


def test_a_plan_of_a_child_says_so_in_the_list(browser, contributor, told):
    child = add_wearer(contributor.account, **A_CHILD)
    browser.post(NEW, told | {"wearer": str(child.pk), "register": "1", "key": "b" * 32})
    assert "my child" in words(browser.get("/plans/"))


@pytest.mark.parametrize("path", ["/plans/", NEW])
def test_pages_ask_the_database_little(browser, path, django_assert_max_num_queries):
    browser.get(path)
    with django_assert_max_num_queries(5):
        assert browser.get(path).status_code == 200


def test_a_wear_of_a_plan_leads_to_it_as_long_as_it_is_kept(browser, contributor, told, registered):
    plan = Plan.objects.get()
    account, wearer = contributor.account, contributor.account.wearers.get()
    record = raw(site="calf", sensor_model="demo-a14", assignment="randomised", plan=plan.token)
    kept = accept_upload(record, account=account, wearer=wearer).wear
    page = browser.get(f"/wears/{kept.pk}/").content.decode()
    assert f'href="{registered}"' in page
    assert kept.header["plan"] not in page
    assert "From calf · back of the upper arm; demo-a14" in words(browser.get("/wears/"))
    browser.post(f"{registered}drop/")
    page = browser.get(f"/wears/{kept.pk}/").content.decode()
    assert registered not in page
    assert kept.header["plan"] not in page
    for path in ("/wears/", f"/wears/{kept.pk}/"):
        assert "From a plan that was dropped" in words(browser.get(path))


def test_the_form_about_a_wear_offers_ones_own_plans(browser, registered, browser_of, stranger):
    drafts = {"drafts": '[{"label": "", "record": {"pairs": []}}]'}
    token = Plan.objects.get().token
    assert f'<option value="{token}">' in browser.post("/wears/new/about/", drafts).content.decode()
    assert token not in browser_of(stranger).post("/wears/new/about/", drafts).content.decode()
