import json

import pytest

from pooling.caution import CAUTION_VERSION
from server.accounts.consents import CONSENT_VERSION
from server.accounts.models import Account
from server.accounts.plans import plans_of, register_plan
from server.accounts.selectors import has_consented, mappings_of
from server.accounts.services import remember_mapping
from server.core import clock
from server.groups.rounds import join_round, open_round
from server.wears.models import Wear
from server.wears.selectors import wears_of
from server.wears.services import accept_upload
from tests.conftest import PASSWORD
from tests.server.records import raw
from tests.server.web.test_sign_in import words

pytestmark = pytest.mark.django_db

PAGES = (
    "/account/",
    "/account/agreed/",
    "/account/agreed/keep/",
    "/account/wearers/",
    "/account/data/",
    "/account/data/mine.json",
    "/account/data/readings.csv",
    "/account/password/",
    "/account/recovery-codes/",
    "/account/authenticator/",
    "/account/close/",
    "/wears/",
)


@pytest.fixture
def keeper(contributor, catalogue):
    """Belongs to `group` and keeps one wear."""
    accept_upload(raw(), account=contributor.account, wearer=contributor.account.wearers.get())
    return contributor


@pytest.mark.parametrize("path", PAGES)
def test_pages_are_for_whoever_is_signed_in_and_nobody_keeps_them(client, browser_of, keeper, path):
    assert client.get(path)["Location"] == f"/sign-in/?next={path}"
    answer = browser_of(keeper).get(path)
    assert (answer.status_code, answer["Cache-Control"]) == (200, "no-store")


@pytest.fixture
def rich(keeper, group, moderator):
    """The keeper, with a plan and a place in a round; their wear is of the plan."""
    account, wearer = keeper.account, keeper.account.wearers.get()
    asked = {"spots": [{"site": "calf"}, {"site": "upper_arm.back"}], "sensor_model": "demo-a14"}
    plan = register_plan(account, asked, wearer=wearer)
    accept_upload(raw(seed=2, site="calf", assignment="randomised", plan=plan.token), account=account, wearer=wearer)
    begins = {"sensor_model": "demo-a14", "sites": ("calf", "chest"), "start_month": clock.today()}
    opened = open_round(group, by=moderator.account, **begins)
    join_round(group, opened.id, account=account)
    return keeper


FORMS = (
    "/pairs/",
    "/sign-in/",
    "/recover/",
    "/wears/new/",
    "/wears/new/typed/",
    "/wears/new/sensor-model/",
    "/wears/{wear}/give/",
    "/wears/{wear}/take-back/",
    "/wears/{wear}/erase/",
    "/plans/new/",
    "/plans/{plan}/drop/",
    "/my-groups/",
)
MOST_QUERIES = {"/wears/": 6, "/wears/next/": 6}


@pytest.mark.parametrize("path", ["/", *(path for path in PAGES if "." not in path), "/wears/next/", *FORMS])
def test_pages_ask_the_database_little(browser_of, rich, path, django_assert_max_num_queries):
    browser = browser_of(rich)
    browser.get("/notices/")  # the first look of an hour notes that the session is used
    path = path.format(wear=wears_of(rich.account)[0].pk, plan=plans_of(rich.account)[0].pk)
    with django_assert_max_num_queries(MOST_QUERIES.get(path, 5)):
        assert browser.get(path).status_code == 200


def test_a_switch_is_turned_off_after_its_page_said_what_that_does(browser_of, keeper):
    browser = browser_of(keeper)
    assert "erases the one wear that you keep, now and for good" in words(browser.get("/account/agreed/keep/"))
    assert Wear.objects.count() == 1  # looking does nothing
    assert browser.post("/account/agreed/keep/", {"given": "no"})["Location"] == "/account/agreed/"
    assert wears_of(keeper.account) == []
    assert not has_consented(keeper.account, "keep")
    browser.post("/account/agreed/keep/", {"given": "yes"})
    assert has_consented(keeper.account, "keep")
    assert browser.get("/account/agreed/nothing/").status_code == 404


def test_everything_held_is_taken_along(browser_of, keeper):
    browser = browser_of(keeper)
    held = json.loads(browser.get("/account/data/mine.json").content)
    assert held["account"]["sign_in_name"] == keeper.sign_in_name
    assert len(held["wears"][0]["record"]["pairs"]) == 20
    assert held["caution"]["version"] == CAUTION_VERSION
    api = keeper.api.get("/api/v1/me/export/").json()
    assert held["wears"] == api["wears"]
    table = browser.get("/account/data/readings.csv")
    assert len(table.content.splitlines()) >= 21
    assert 'filename="readings.csv"' in table["Content-Disposition"]


def test_layouts_are_forgotten(browser_of, keeper):
    browser = browser_of(keeper)
    mapping = {
        "kind": "meter", "header_line": 1, "roles": ["moment", "reference"], "glucose_unit": "mg/dL",
        "date_order": None, "decimal": ".", "time_zone": None, "header_hash_input": ["a", "b"],
    }  # fmt: skip
    remember_mapping(keeper.account, mapping)
    remember_mapping(keeper.account, mapping | {"kind": "sensor", "header_hash_input": ["c", "d"]})
    page = words(browser.get("/account/data/"))
    assert "an export of a meter, 2 columns, mg/dL" in page
    assert "an export of a sensor" in page
    one, other = mappings_of(keeper.account)
    assert browser.post(f"/account/data/forget-layouts/{one.pk}/")["Location"] == "/account/data/"
    assert mappings_of(keeper.account) == [other]
    assert browser.post(f"/account/data/forget-layouts/{one.pk}/").status_code == 404
    browser.post("/account/data/forget-layouts/")
    assert mappings_of(keeper.account) == []


def test_closing_says_what_happens_wants_the_password_and_does_it(browser_of, keeper):
    browser = browser_of(keeper)
    page = words(browser.get("/account/close/"))
    assert "The one wear that you keep is erased" in page
    assert "at most 24 editions later" in page
    for told in ({}, {"understood": "on"}, {"understood": "on", "present_password": "wrong wrong wrong"}):
        assert browser.post("/account/close/", told).status_code == 422
    told = {"understood": "on", "present_password": PASSWORD}
    assert browser.post("/account/close/", told)["Location"] == "/closed/"
    assert not Account.objects.filter(pk=keeper.account.pk).exists()
    assert "is closed" in words(browser.get("/closed/"))
    assert browser.get("/account/").status_code == 302


def test_the_text_on_the_page_is_that_of_the_consent(browser_of, keeper):
    from server.accounts.consents import CONSENT_TEXT

    page = words(browser_of(keeper).get("/account/agreed/"))
    for paragraph in CONSENT_TEXT.split("\n"):
        said = paragraph.split(": ", 1)[-1][1:]  # a switch's own word is its heading there
        assert " ".join(said.split()) in page
    assert f"Version {CONSENT_VERSION}" in page
