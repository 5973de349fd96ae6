import re

import pytest

from server.groups.models import Group
from server.wears.models import Wear, WearPairs
from server.wears.selectors import wears_of
from server.wears.services import accept_upload, give_to_group
from tests.server.records import raw
from tests.server.web.test_sign_in import words

pytestmark = pytest.mark.django_db


@pytest.fixture
def keep(contributor, catalogue):
    def keep(**changes):
        return accept_upload(raw(**changes), account=contributor.account, wearer=contributor.account.wearers.get()).wear

    return keep


@pytest.fixture
def browser(browser_of, contributor):
    return browser_of(contributor)


def test_without_a_wear_the_page_says_how_to_begin(browser):
    page = words(browser.get("/wears/"))
    assert "You keep none yet" in page
    assert "side by side" not in page


def test_wears_stand_by_site_and_model_with_how_long_they_stayed(browser, keep):
    keep()
    keep(site="calf", pairs=[], worn_min=10_080, end_reason="fell_off")
    page = browser.get("/wears/")
    said = words(page)
    assert said.index("Calf") < said.index("Front of the thigh")
    assert "7 days, 0 h 0 min" in said
    assert "Came off by itself. Yours alone." in said
    assert page.content.count(b"<svg") == 2


def test_a_wear_has_its_report_and_where_it_stands(browser, keep, group, contributor):
    wear = keep()
    page = words(browser.get(f"/wears/{wear.pk}/"))
    for said in ("Yours alone.", "What this wear says", "When the fingerstick was", "What one wear cannot say"):
        assert said in page
    give_to_group(wear.pk, account=contributor.account, group=group)
    assert "Given to Harbour. Volunteers look it through." in words(browser.get(f"/wears/{wear.pk}/"))


def test_it_is_read_in_the_readers_unit(browser, keep):
    wear = keep()
    browser.cookies["unit"] = "mmol/L"
    assert "When the fingerstick was 3.9, the sensor mostly showed" in words(browser.get(f"/wears/{wear.pk}/"))


@pytest.mark.parametrize("file_format", ["html", "png"])
def test_the_report_is_taken_along(browser, keep, file_format):
    answer = browser.get(f"/wears/{keep().pk}/report.{file_format}")
    assert (answer.status_code, answer["Cache-Control"]) == (200, "no-store")


ENGLISH = re.compile(
    r"\b(the|of|and|from|that|could|would|with|people|is|are|overlap|reads?|your?|pairs?|to|days?|low)\b"
)


@pytest.mark.parametrize("changes", [{"n_pairs": 100}, {"pairs": []}, {"n_pairs": 12, "site": "calf"}])
def test_a_report_taken_along_speaks_the_language_of_its_page(browser, keep, changes):
    address = f"/wears/{keep(**changes).pk}/report.html"
    german, english = (browser.get(address, headers={"accept-language": spoken}) for spoken in ("de", "en"))
    said = re.sub(r"<style>.*?</style>", "", german.content.decode(), flags=re.DOTALL)
    texts = [*re.findall(r">([^<>]+)<", said), *re.findall(r'aria-label="([^"]+)"', said)]
    assert [text for text in texts if ENGLISH.search(text)] == []
    assert '<html lang="de">' in said
    assert "Nicht für die Behandlung" in said
    assert '<html lang="en">' in english.content.decode()
    pictures = [
        browser.get(address.replace("html", "png"), headers={"accept-language": spoken}) for spoken in ("de", "en")
    ]
    assert pictures[0].content != pictures[1].content


def test_once_its_readings_are_erased_that_is_said(browser, keep):
    wear = keep()
    WearPairs.objects.all().delete()
    assert "have been erased on the date set at upload" in words(browser.get(f"/wears/{wear.pk}/"))


def test_others_wears_and_none_look_alike(browser_of, stranger, keep):
    wear = keep()
    browser = browser_of(stranger)
    gone = "00000000-0000-4000-8000-000000000000"
    for path in ("", "report.png", "give/", "take-back/", "erase/", "answer/"):
        answers = [browser.get(f"/wears/{key}/{path}") for key in (wear.pk, gone)]
        assert [answer.status_code for answer in answers] == [404, 404]
        assert words(answers[0]) == words(answers[1])


def test_two_to_four_stand_side_by_side_with_what_they_could_be(browser, keep, contributor):
    for seed in range(5):
        keep(seed=seed, site="calf" if seed else "thigh.front")
    ids = [str(wear.pk) for wear in wears_of(contributor.account)]
    page = words(browser.get("/wears/beside/", {"wear": ids[:3]}))
    assert "two sensors on one site differ, too" in page
    assert "MARD" in page
    for chosen in (ids[:1], ids, ["x", "y"], [ids[0], ids[0]]):
        assert browser.get("/wears/beside/", {"wear": chosen}).status_code == 422


@pytest.mark.parametrize("state", ["asked", "approved", "excluded"])
def test_every_state_has_words(browser, keep, group, state):
    wear = keep()
    Wear.objects.filter(pk=wear.pk).update(
        state=state, previous_state="queued", shown_state=state, group=Group.objects.get(pk=group.pk)
    )
    assert "Harbour" in words(browser.get("/wears/"))
