"""Several past wears in one go: told about once, looked at, and each stored or refused by itself."""

import json
from types import SimpleNamespace

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from server.accounts import throttles
from server.wears.selectors import wears_of
from server.web import drafts
from tests.house.tree import ROOT
from tests.server.records import record
from tests.server.web.test_bringing import hidden, send
from tests.server.web.test_sign_in import words

pytestmark = pytest.mark.django_db
NEW, KEEP = "/wears/new/several/", "/wears/new/several/keep/"
ALIKE = {"filled": "1", "sensor_model": "", "assignment": "", "meter_class": "", "calibrated": ""}


@pytest.fixture
def browser(browser_of, contributor, catalogue):
    return browser_of(contributor)


def lines(*records):
    return "\n".join(json.dumps(one) for one in records).encode()


def chosen(browser, *files):
    parts = [SimpleUploadedFile(f"past-{n}.json", data) for n, data in enumerate(files)]
    return browser.post(NEW, {"file": parts})


def to_keep(page):
    """What the form that stores them holds; the form that goes back stands below it."""
    _before, form = page.content.split(f'action="{KEEP}"'.encode())
    return hidden(SimpleNamespace(content=form.split(b"</form>")[0]))


def told(page, **more):
    return hidden(page) | ALIKE | more


@pytest.mark.parametrize(
    "files",
    [
        (lines(record(), record(seed=2)),),
        (json.dumps([record(), record(seed=2)], indent=1).encode(),),
        (json.dumps(record(), indent=1).encode(), lines(record(seed=2))),
    ],
    ids=["one a line", "a list", "a file each"],
)
def test_ready_records_are_listed_looked_at_and_stored(browser, contributor, files):
    listed = chosen(browser, *files)
    assert "2 wears" in words(listed)
    sites = {"site-0": "calf", "site-1": "chest", "end_reason-0": "completed", "end_reason-1": "fell_off"}
    checked = browser.post(NEW, told(listed, **sites))
    assert "This is all that will be stored" in words(checked)
    assert wears_of(contributor.account) == []
    kept = browser.post(KEEP, to_keep(checked))
    assert "2 are stored" in words(kept)
    assert {wear.header["site"] for wear in wears_of(contributor.account)} == {"calf", "chest"}
    # Sent once more, nothing is stored twice.
    assert "2 are stored" in words(browser.post(KEEP, to_keep(checked)))
    assert len(wears_of(contributor.account)) == 2


def test_a_refused_one_says_its_field_comes_back_and_is_mended(browser, contributor):
    listed = chosen(browser, lines(record(), record(seed=2, site="knee")))
    checked = browser.post(NEW, told(listed, **{"site-0": "calf", "end_reason-0": "completed"}))
    assert "Site: choose it from the list" in words(checked)
    assert "Store one wear" in words(checked)
    kept = browser.post(KEEP, to_keep(checked))
    page = words(kept)
    assert "One is stored" in page
    assert "One was not stored" in page
    assert "Site: choose it from the list" in page
    (left,) = drafts.drafts_in(hidden(kept)["drafts"])
    assert left.record["pairs"] == drafts.as_stored(record(seed=2))["pairs"]
    mended = browser.post(NEW, told(kept, **{"site-0": "chest", "end_reason-0": "completed"}))
    assert "One is stored" in words(browser.post(KEEP, to_keep(mended)))
    assert {wear.header["site"] for wear in wears_of(contributor.account)} == {"calf", "chest"}


def test_several_wears_of_an_export_are_told_about_on_one_page(browser, contributor):
    data = (ROOT / "fixtures" / "exports" / "typed-by-label.csv").read_bytes()
    read = send(browser, data)
    assert "All of them on one page" in words(read)
    listed = browser.post(NEW, {"drafts": hidden(read)["drafts"]})
    assert browser.post(NEW, told(listed)).status_code == 422  # the export names no sensor model
    alike = {"sensor_model": "demo-a14", "assignment": "chosen", "meter_class": "unknown", "calibrated": "no"}
    each = {f"{name}-{n}": value for n in (0, 1) for name, value in (("site", "calf"), ("end_reason", "completed"))}
    each |= {"worn_days-0": "14", "worn_days-1": "14"}
    checked = browser.post(NEW, told(listed, **alike, **each) | alike)
    assert "Store 2 wears" in words(checked)
    browser.post(KEEP, to_keep(checked))
    assert {wear.header["sensor_model"] for wear in wears_of(contributor.account)} == {"demo-a14"}


def test_what_was_told_is_kept_when_something_is_changed(browser):
    listed = chosen(browser, lines(record()))
    checked = browser.post(NEW, told(listed, **{"site-0": "calf", "end_reason-0": "fell_off"}))
    changed = browser.post(NEW, {"change": "1", "drafts": hidden(listed)["drafts"], **ALIKE, "site-0": "calf"})
    assert "This is all" in words(checked)
    assert '<option value="calf" selected>' in changed.content.decode()


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        (b"date;value\n1;2", "holds no ready wear records"),
        (b'[{"pairs": 3}]', "holds no ready wear records"),
        (b"[1]", "holds no ready wear records"),
        (b"[" * 9000, "holds no ready wear records"),
        (b"\xff\xfe", "holds no ready wear records"),
        (b"[]", "There is no wear here"),
        (lines(*[{"pairs": []}] * 51), "At most 50"),
    ],
)
def test_what_cannot_be_taken_is_said(browser, sent, said):
    answer = chosen(browser, sent)
    assert (answer.status_code, said in words(answer)) == (422, True)


@pytest.mark.parametrize("wearer", ["", "nobody", "00000000-0000-4000-8000-000000000000"])
def test_a_wearer_that_is_none_of_ones_own_stores_nothing(browser, contributor, wearer):
    sent = {"drafts": drafts.held([drafts.Draft("", record())]), "wearer": wearer, "key": "a"}
    assert "One was not stored" in words(browser.post(KEEP, sent))
    assert wears_of(contributor.account) == []


@pytest.mark.parametrize("path", [NEW, KEEP])
def test_it_is_for_whoever_is_signed_in(client, path):
    assert client.post(path)["Location"].startswith("/sign-in/")


def test_the_list_asks_the_database_little(browser, django_assert_max_num_queries):
    browser.get("/")
    with django_assert_max_num_queries(5):
        chosen(browser, lines(*[record(seed=n) for n in range(9)]))


def test_a_fault_in_a_pair_says_which(browser):
    pairs = record()["pairs"]
    pairs[3] = pairs[3] | {"reference": -4}
    listed = chosen(browser, lines(record(pairs=pairs)))
    assert "Pair 4: " in words(browser.post(NEW, told(listed, **{"site-0": "calf", "end_reason-0": "completed"})))


def test_looking_is_counted_as_it_is_for_the_api(browser, monkeypatch):
    monkeypatch.setitem(throttles.MOST_TRIES_PER_HOUR, "preview", 1)
    listed = chosen(browser, lines(record()))
    assert [browser.post(NEW, told(listed)).status_code for _ in range(2)] == [200, 429]
