"""One member from joining to getting back in; everything that the browser sends on the way is looked at."""

import json
import re
from decimal import Decimal
from urllib.parse import parse_qs, unquote_plus

import pytest

from server.core.catalogue import list_model
from server.groups.services import see_to_everyone
from tests.house.tree import ROOT
from tests.journeys.test_bringing import check, tell_about
from tests.journeys.test_joining import join

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
EXPORTS = ROOT / "fixtures" / "exports"
MESSY = ("many-columns.csv", "fingersticks.csv")
ANEW = "other ordinary words here"


@pytest.fixture
def harbour(group):
    see_to_everyone()
    list_model("demo-a14", rated_life_days=Decimal(14), licensed={"upper_arm.back": "all"})
    return group


def join_and_go_on(visit):
    visit.open("/join/")
    name, codes = join(visit.page)
    visit.page.get_by_label("I have written them down").check()
    visit.page.get_by_role("button", name="Go on").click()
    return name, codes


def read_on_the_device(visit):
    page = visit.page
    page.get_by_role("link", name="Bring in a finished wear").click()
    page.get_by_label("Two files", exact=True).set_input_files([EXPORTS / name for name in MESSY])
    page.get_by_role("button", name="Read them here").click()
    page.get_by_label("When was it put on?").fill("2031-10-25T07:30")
    page.get_by_label("When did it come off?").fill("2031-10-27T17:00")
    page.get_by_role("button", name="Show what would leave this device").click()
    page.get_by_role("heading", name="This is all that leaves your device").wait_for()
    shown = page.locator("#device [data-shown]").text_content()
    check(visit, "member-leaving")
    page.get_by_role("button", name="Send this and go on").click()
    return shown


def keep_and_give(visit):
    page = visit.page
    tell_about(page)
    check(visit, "member-about")
    page.get_by_role("button", name="See all that will be stored").click()
    check(visit, "member-check")
    page.get_by_role("button", name="Store it and read the report").click()
    page.get_by_text("What one wear cannot say").wait_for()
    check(visit, "member-report")
    wear = page.url
    give_to_harbour(page)
    page.get_by_role("link", name="Read what it means and turn it on").click()  # nothing is given before that
    check(visit, "member-agreeing")
    page.get_by_role("button", name="I agree; turn it on").click()
    page.goto(wear)
    give_to_harbour(page)
    check(visit, "member-giving")
    page.get_by_role("button", name="Give it to Harbour").click()
    page.get_by_text("Volunteers look it through").wait_for()


def give_to_harbour(page):
    page.get_by_role("link", name="Give it to a group").click()
    page.get_by_label("Harbour").check()
    page.get_by_role("button", name="What could anyone learn about me?").click()


def own_estimate(visit):
    visit.open("/wears/next/")
    page = visit.page
    page.get_by_label("front of the thigh", exact=False).check()
    page.get_by_label("Set beside the figures of").select_option("everyone")
    page.get_by_role("button", name="Work it out").click()
    page.get_by_text("Your own estimate: front of the thigh").wait_for()
    check(visit, "member-estimate")


def test_from_joining_to_getting_back_in(visit, harbour):
    page, sent = visit.page, []
    page.on("request", lambda request: sent.append((request.url, request.post_data or "")))
    name, codes = join_and_go_on(visit)
    visit.open("/my-groups/")
    page.get_by_role("button", name="Join Harbour").click()
    visit.open("/wears/")
    before = len(sent)
    shown = read_on_the_device(visit)
    keep_and_give(visit)
    bringing = sent[before:]
    own_estimate(visit)
    visit.open("/wears/")
    page.get_by_role("link", name=re.compile("demo-a14")).click()
    page.get_by_role("link", name="Take it back").click()
    page.get_by_role("button", name="Take it back").click()
    page.get_by_text("It is yours alone again").wait_for()
    check(visit, "member-taken-back")
    nothing_else_left(bringing, shown)

    page.get_by_role("link", name="Account").click()
    page.get_by_role("button", name="Sign out", exact=True).click()
    get_back_in(visit, name, codes[0])
    visit.open("/wears/")
    assert page.get_by_role("link", name=re.compile("demo-a14")).is_visible()


def nothing_else_left(bringing, shown):
    """Of the two files nothing went out but the text that the page showed; this looks at every address and body."""
    (draft,) = json.loads(shown)
    assert draft["record"]["pairs"]
    first = next(body for _, body in bringing if body)
    assert set(parse_qs(first)) == {"csrfmiddlewaretoken", "drafts"}
    assert parse_qs(first)["drafts"] == [shown]
    everything = "\n".join(unquote_plus(url) + "\n" + unquote_plus(body) for url, body in bringing)
    for row in (EXPORTS / MESSY[0]).read_text(encoding="utf-8").split("\nA-")[1:]:
        serial, moment = f"A-{row.split(';')[0]}", re.search(r"2031-\d\d-\d\d \d\d:\d\d", row)[0]
        assert serial not in everything
        assert moment not in everything
        assert moment.replace(" ", "T") not in everything
    for secret in ("2031", "quote", "Battery", "Insulin", ".csv"):
        assert secret not in everything
    traced = re.findall(r"2031-\d\d-\d\d \d\d:\d\d;(\d+)", (EXPORTS / MESSY[0]).read_text(encoding="utf-8"))
    stuck = [line.rsplit(",", 1)[1] for line in (EXPORTS / MESSY[1]).read_text(encoding="utf-8").splitlines()[1:]]
    told = {f"{pair[one]:g}" for pair in draft["record"]["pairs"] for one in ("reference", "sensor") if pair[one]}
    numbers = set(re.findall(r"(?<![\w.])\d+(?:\.\d+)?(?![\w.])", shown))
    minutes = {str(pair["elapsed_min"]) for pair in draft["record"]["pairs"]}
    kept_back = set(traced) - told - set(stuck) - minutes - {"3450"}
    assert len(traced) > 200
    assert len(kept_back) > 60
    assert not kept_back & numbers


def get_back_in(visit, name, code):
    page = visit.page
    visit.open("/recover/")
    recover(page, name, code)
    page.get_by_text("Your new password holds").wait_for()
    visit.open("/account/recovery-codes/")
    check(visit, "member-new-codes")
    page.get_by_label("Your present password").fill(ANEW)
    page.get_by_role("button", name="Make new codes").click()
    fresh = [one.inner_text() for one in page.locator(".keepsake ol code").all()]
    assert len(fresh) == 6
    assert code not in fresh
    check(visit, "member-codes")
    page.context.clear_cookies()
    visit.open("/recover/")
    recover(page, name, code)  # used up, and gone with the others
    assert page.get_by_role("alert").is_visible()
    assert any("42" in text or "40" in text for text in visit.complaints)
    visit.complaints.clear()
    recover(page, name, fresh[2])
    page.get_by_text("Your new password holds").wait_for()


def recover(page, name, code):
    page.get_by_label("Sign-in name").fill(name)
    page.get_by_label("One of your recovery codes").fill(code)
    page.get_by_label("New password").fill(ANEW)
    page.get_by_role("button", name="Set it and sign in").click()
