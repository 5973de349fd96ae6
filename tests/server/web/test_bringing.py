"""From readings to a stored wear, over pages alone."""

import json
import re
from html import unescape

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from server.accounts import throttles
from server.accounts.selectors import mappings_of
from server.wears.models import WearPairs
from server.wears.selectors import columns_of, wears_of
from server.web import drafts
from tests.house.tree import ROOT
from tests.server.canaries import database_bytes, found_in, moment, reading
from tests.server.exports import INSERTED, TIMES, meter_export, sensor_export, trace
from tests.server.records import pairs
from tests.server.web.test_sign_in import words

pytestmark = pytest.mark.django_db

ABOUT = {
    "filled": "1",
    "site": "thigh.front",
    "sensor_model": "demo-a14",
    "worn_days": "14",
    "worn_hours": "2",
    "end_reason": "completed",
    "assignment": "chosen",
    "calibrated": "no",
    "meter_class": "within-15-pct",
    "rated_by": "self",
}
PAIRS = pairs()


def held(*records):
    return drafts.held(
        [drafts.Draft(str(n), {"glucose_unit": "mg/dL", "pairs": PAIRS} | record) for n, record in enumerate(records)]
    )


def hidden(page):
    """The hidden fields of the page's first form and what they hold."""
    found = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', page.content.decode())
    return {name: unescape(value) for name, value in found if name != "csrfmiddlewaretoken"}


@pytest.fixture
def browser(browser_of, contributor, catalogue):
    return browser_of(contributor)


@pytest.fixture
def about(contributor):
    return ABOUT | {"wearer": str(contributor.account.wearers.get().pk)}


def send(browser, *files, **told):
    parts = [SimpleUploadedFile(f"export-{n}.csv", data) for n, data in enumerate(files)]
    return browser.post("/wears/new/files/", {"file": parts, **told})


def again(browser, page, **told):
    return browser.post("/wears/new/files/", hidden(page) | {"add": "1"} | told)


def test_files_are_read_asked_about_and_become_a_stored_wear(browser, contributor, about):
    asked = send(browser, sensor_export(), meter_export())
    assert "When was the sensor inserted?" in words(asked)
    assert "are not kept" in words(browser.get("/wears/new/"))
    read = again(browser, asked, inserted_other=TIMES["inserted"], ended_other=TIMES["ended"])
    assert "have a sensor reading beside them" in words(read)
    form = browser.post("/wears/new/about/", {"drafts": hidden(read)["drafts"]})
    assert 'name="worn_days" value="3"' in re.sub(r' (id|inputmode|autocomplete)="\w+"', "", form.content.decode())
    checked = browser.post(
        "/wears/new/about/",
        about | {"drafts": hidden(form)["drafts"], "worn_days": "3", "worn_hours": "0", "end_reason": "fell_off"},
    )
    assert "This is all that will be stored" in words(checked)
    assert wears_of(contributor.account) == []
    told = hidden(checked)
    record = json.loads(told["record"])
    assert record["worn_min"] == 3 * 24 * 60
    stored = browser.post("/wears/new/keep/", told)
    (wear,) = wears_of(contributor.account)
    assert stored["Location"] == f"/wears/{wear.pk}/"
    assert columns_of(wear).elapsed_min.tolist() == [pair["elapsed_min"] for pair in record["pairs"]]
    assert "When the fingerstick was" in words(browser.get(stored["Location"]))
    # Sent once more it is not stored again.
    assert browser.post("/wears/new/keep/", told)["Location"] == stored["Location"]
    assert len(wears_of(contributor.account)) == 1


def test_nothing_of_the_files_stays_on_the_server(browser):
    asked = send(browser, sensor_export(), meter_export())
    again(browser, asked, inserted_other=TIMES["inserted"], ended_other=TIMES["ended"])
    assert not WearPairs.objects.exists()
    canaries = [*(reading(value) for _, value in trace()[:40]), moment(INSERTED)]
    assert found_in(sensor_export(), canaries) != []  # they can be found
    assert found_in(database_bytes(), canaries) == []
    assert b"quokka" not in database_bytes()


def test_layouts_are_remembered_only_when_that_is_ticked(browser, contributor):
    asked = send(browser, sensor_export(), meter_export())
    again(browser, asked, inserted_other=TIMES["inserted"])
    assert mappings_of(contributor.account) == []
    again(browser, asked, remember="on")
    assert len(mappings_of(contributor.account)) == 2


@pytest.mark.parametrize(
    ("files", "said"),
    [
        ((), "Choose one to four files"),
        ((b"nothing of a table",), "could not be read"),
        ((b"a;b\n1;2",) * 5, "one to four"),
    ],
)
def test_what_cannot_be_read_is_said(browser, files, said):
    answer = send(browser, *files)
    assert (answer.status_code, said in words(answer)) == (422, True)


@pytest.mark.parametrize("packed", ["no base64!", "AAAA", ""])
def test_a_form_that_was_tampered_with_is_refused(browser, packed):
    answer = browser.post("/wears/new/files/", {"packed-0": packed, "name-0": "x"})
    assert answer.status_code == 422


@pytest.mark.parametrize("sent", ["", "[]", "{}", "[1]", '[{"record": 1}]', '[{"record": {"pairs": 3}}]', "[" * 4000])
def test_drafts_that_were_tampered_with_are_refused(browser, sent):
    assert browser.post("/wears/new/about/", {"drafts": sent}).status_code == 422


@pytest.mark.parametrize("length", ["abc", 1e400, [3], -1, 10**200, 2899.5])
def test_a_length_that_came_back_odd_is_asked_for_and_nothing_else_is_lost(browser, about, length):
    waiting = held({"worn_min": length, "end_reason": "fell_off"}, {})
    form = browser.post("/wears/new/about/", {"drafts": waiting})
    page = words(form)
    assert "How long it was worn did not come as minutes of a wear" in page
    assert f"It has {len(PAIRS)} pairs" in page
    assert "One more wear waits after it" in page
    assert '<option value="fell_off" selected>' in form.content.decode()
    again = browser.post("/wears/new/about/", about | {"drafts": hidden(form)["drafts"], "worn_days": ""})
    assert (again.status_code, "Type how many days" in words(again)) == (422, True)
    checked = browser.post("/wears/new/about/", about | {"drafts": hidden(again)["drafts"]})
    assert (checked.status_code, "14 days, 2 h 0 min" in words(checked)) == (200, True)


def test_what_is_wrong_stands_beside_its_field_and_answers_are_kept(browser, about):
    wrong = about | {
        "drafts": held({}),
        "site": "",
        "worn_days": "many",
        "skin_grade": "2",
        "ease": "7",
        "end_reason": "",
    }
    answer = browser.post("/wears/new/about/", wrong)
    assert answer.status_code == 422
    page = words(answer)
    for said in ("Choose the site", "A whole number", "Choose how the wear ended"):
        assert said in page
    assert re.search(r'<option value="7" selected>', answer.content.decode())
    assert hidden(answer)["drafts"] == held({})


def test_a_fault_of_the_record_stands_beside_its_field(browser, about):
    answer = browser.post("/wears/new/about/", about | {"drafts": held({}), "worn_days": "2"})
    assert answer.status_code == 422
    assert "3 things" not in words(answer)
    assert "put right" in words(answer)


def test_from_the_last_page_one_can_go_back_and_change_something(browser, about):
    checked = browser.post(
        "/wears/new/about/", about | {"drafts": held({}), "ease": "7", "prepared": ["washed", "strap"]}
    )
    page = checked.content.decode()
    back = page[page.index('name="change"') :]
    told = [
        (name, unescape(value)) for name, value in re.findall(r'type="hidden" name="([^"]+)" value="([^"]*)"', back)
    ]
    again = browser.post(
        "/wears/new/about/", {"drafts": held({}), "change": "1", "prepared": ["washed", "strap"]} | dict(told)
    )
    assert again.status_code == 200
    assert {value for name, value in told if name == "prepared"} == {"washed", "strap"}
    assert re.search(r'<option value="7" selected>', again.content.decode())


def test_several_wears_are_brought_in_one_after_the_other(browser, contributor, about):
    waiting = held({}, {"pairs": pairs(seed=2)})
    checked = browser.post("/wears/new/about/", about | {"drafts": waiting})
    next_one = browser.post("/wears/new/keep/", hidden(checked) | {"rest": held({"pairs": pairs(seed=2)})})
    assert "Stored. Now the next one" in words(next_one)
    checked = browser.post("/wears/new/about/", about | {"drafts": hidden(next_one)["drafts"]})
    assert browser.post("/wears/new/keep/", hidden(checked) | {"rest": "[]"}).status_code == 302
    assert len(wears_of(contributor.account)) == 2


def test_without_readings_a_wear_still_tells_how_long_it_stayed(browser, contributor, about):
    told = about | {"drafts": '[{"label": "", "record": {"pairs": []}}]', "worn_days": "2", "end_reason": "fell_off"}
    checked = browser.post("/wears/new/about/", told)
    browser.post("/wears/new/keep/", hidden(checked) | {"rest": "[]"})
    (wear,) = wears_of(contributor.account)
    assert (wear.header["end_reason"], wear.header["worn_min"]) == ("fell_off", 2 * 1440 + 120)


def test_typed_pairs_become_minutes_since_insertion(browser):
    line = {"day-1": "1", "time-1": "09:00", "reference-1": "112", "sensor-1": "98"}
    line |= {"time-2": "21.15", "reference-2": "5", "sensor-2": "abc", "day-2": "", "rows": "10", "put_on": "08:30"}
    wrong = browser.post("/wears/new/typed/", line)
    assert (wrong.status_code, "Pair 2" in words(wrong)) == (422, True)
    right = browser.post("/wears/new/typed/", line | {"reference-2": "150", "sensor-2": "", "sensor_mark-2": "above"})
    (draft,) = drafts.drafts_in(hidden(right)["drafts"])
    assert [pair["elapsed_min"] for pair in draft.record["pairs"]] == [30, 765]
    assert "21.15" not in right.content.decode()


def test_every_step_is_for_whoever_is_signed_in(about):
    for path in ("/wears/new/", "/wears/new/files/", "/wears/new/typed/", "/wears/new/about/", "/wears/new/keep/"):
        answer = Client().post(path, about)
        assert answer["Location"].startswith("/sign-in/")


@pytest.mark.parametrize("path", ["/wears/new/", "/wears/new/typed/", "/wears/new/about/"])
def test_form_pages_ask_the_database_little(browser, path, django_assert_max_num_queries):
    browser.get("/")
    with django_assert_max_num_queries(5):
        browser.post(path, {"drafts": held({})}) if "about" in path else browser.get(path)


def test_an_export_with_several_wears_becomes_as_many_drafts(browser):
    data = (ROOT / "fixtures" / "exports" / "typed-by-label.csv").read_bytes()
    page = send(browser, data)
    found = drafts.drafts_in(hidden(page)["drafts"])
    assert len(found) == 2
    assert all(draft.n_pairs for draft in found)
    form = browser.post("/wears/new/about/", {"drafts": hidden(page)["drafts"]})
    assert "One more wear waits after it" in words(form)


def test_looking_is_counted_as_it_is_for_the_api(browser, monkeypatch):
    monkeypatch.setitem(throttles.MOST_TRIES_PER_HOUR, "preview", 1)
    told = [words(send(browser, sensor_export(trace()), meter_export())) for _ in range(2)]
    assert ["wait a while" in one for one in told] == [False, True]
