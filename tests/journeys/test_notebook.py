"""The notebook without network and without an account; then what of it leaves the device, and what does not."""

import json
import re
from urllib.parse import parse_qs

import pytest

from tests.journeys.test_bringing import check, enter, member, tell_about  # noqa: F401

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
KEPT = "This page is kept on the device"
PUT_ON = "2031-01-17T08:03"
PAIRS = (("2031-01-17T09:14", "112", "98", "", "scheduled"), ("2031-01-20T21:47", "58", "", "below", "doubt"))
NOTES = "[data-notes] li"
ACTIVATED = """navigator.serviceWorker.getRegistration().then(({active}) => active.state === "activated" ||
  new Promise((tell) => active.addEventListener("statechange", tell, {once: true})).then(() => true))"""


def open_notebook(visit):
    visit.open("/notebook/")
    visit.page.get_by_text(KEPT).wait_for()


def begin(page, unit="mg/dL"):
    page.get_by_label("Put on", exact=True).fill(PUT_ON)
    page.get_by_label(unit, exact=True).check()
    page.get_by_label("What you call it").fill("Quokka’s left arm")
    page.get_by_role("button", name="Begin", exact=True).click()


def note_pair(page, at, reference, sensor, mark, prompt):
    form = page.locator("form[data-pair]")
    form.get_by_label("Day and time").fill(at)
    form.get_by_label("Fingerstick").fill(reference)
    form.get_by_label("Sensor", exact=False).first.fill(sensor)
    form.get_by_label("Sensor showed").select_option(mark)
    form.get_by_label("Why pricked").select_option(prompt)
    form.get_by_role("button", name="Note the pair").click()


def note_look(page, at="2031-01-19T07:30"):
    form = page.locator("form[data-look]")
    form.get_by_label("Day and time").fill(at)
    form.get_by_label("How the skin takes it").select_option("2")
    form.get_by_text("What was seen").click()
    form.get_by_label("itch").check()
    form.get_by_label("How the sensor stays on").select_option("edge_lift")
    form.get_by_label("Remark").fill("after the quokka swim")
    form.get_by_role("button", name="Note this").click()


def note_end(page, at="2031-01-24T08:10"):
    page.get_by_label("Came off").fill(at)
    page.get_by_label("How it ended").select_option("fell_off")
    page.get_by_role("button", name="Note the end").click()


def fill_in(page):
    begin(page)
    for pair in PAIRS:
        note_pair(page, *pair)
    note_look(page)
    note_end(page)


def test_a_wear_is_noted_without_network_and_brought_in_with_one(visit, member):  # noqa: F811
    page, sent = visit.page, []
    open_notebook(visit)
    check(visit, "notebook-empty")
    page.context.on("request", lambda request: sent.append((request.method, request.url, request.post_data or "")))
    page.context.set_offline(True)
    page.reload()
    fill_in(page)
    assert page.locator(NOTES).count() == 3
    page.reload()
    assert page.locator(NOTES).count() == 3
    assert page.locator(NOTES).first.inner_text().startswith("2031-01-17, 09:14: fingerstick 112, sensor 98, in mg/dL")
    check(visit, "notebook")
    assert [one for one in sent if one[0] != "GET"] == []
    page.context.set_offline(False)
    visit.complaints[:] = [text for text in visit.complaints if "INTERNET_DISCONNECTED" not in text]

    enter(page, visit.address, member)
    open_notebook(visit)
    sent.clear()
    page.get_by_role("link", name="Bring this wear in").click()
    page.get_by_role("heading", name="This is all that leaves your device").wait_for()
    shown = page.locator("#from-notebook [data-shown]").text_content()
    check(visit, "from-notebook")
    assert [body for _, _, body in sent if body] == []
    (draft,) = json.loads(shown)
    assert draft == {
        "label": "",
        "record": {
            "glucose_unit": "mg/dL",
            "calibrated": False,
            "pairs": [
                {"elapsed_min": 70, "reference": 112, "sensor": 98, "sensor_mark": None}
                | {"prompt": "scheduled", "source": "display"},
                {"elapsed_min": 5140, "reference": 58, "sensor": None, "sensor_mark": "below"}
                | {"prompt": "doubt", "source": "display"},
            ],
            "worn_min": 10087,
            "end_reason": "fell_off",
            "skin": {"grade": 2, "signs": ["itch"]},
            "events": [{"kind": "edge_lift", "elapsed_min": 1440}],
        },
    }
    page.locator("#from-notebook").get_by_role("button", name="Send this and go on").click()
    assert page.get_by_text("It has 2 pairs").is_visible()
    (body,) = [body for _, _, body in sent if body]
    assert set(parse_qs(body)) == {"csrfmiddlewaretoken", "drafts"}
    assert parse_qs(body)["drafts"] == [shown]
    for secret in ("quokka", "Quokka", "2031", "09:14", "21:47", "08:03"):
        assert not any(secret in url + body for _, url, body in sent)
    tell_about(page)
    page.get_by_role("button", name="See all that will be stored").click()
    assert page.get_by_text("edge", exact=False).first.is_visible()
    page.get_by_role("button", name="Store it and read the report").click()
    assert page.get_by_text("What one wear cannot say").is_visible()


def test_what_the_browser_keeps_is_the_page_that_anybody_gets(visit, member):  # noqa: F811
    enter(visit.page, visit.address, member)
    open_notebook(visit)
    visit.open("/account/")
    kept = visit.page.evaluate("""async () => {
      const told = {};
      for (const name of await caches.keys()) {
        const kept = await caches.open(name);
        for (const request of await kept.keys()) {
          told[new URL(request.url).pathname] = await (await kept.match(request)).text();
        }
      }
      return told;
    }""")
    pages = {path: text for path, text in kept.items() if not path.startswith("/static/")}
    assert set(pages) == {"/notebook/en-gb/", "/words/en-gb.js"}
    for text in pages.values():
        assert member.sign_in_name not in text
        assert "csrf" not in text
        assert "Sign out" not in text


def test_an_upgrade_replaces_what_was_kept_and_leaves_the_notes(visit, monkeypatch):
    from server.web import notebook

    open_notebook(visit)
    begin(visit.page)
    before = visit.page.evaluate("caches.keys()")
    monkeypatch.setattr(notebook, "_version", lambda _language: "0123456789abcdef")
    visit.page.reload()
    visit.page.get_by_text("There is a newer notebook").wait_for()
    visit.page.evaluate(ACTIVATED)
    assert before != ["notebook-en-gb-0123456789abcdef"]
    assert visit.page.evaluate("caches.keys()") == ["notebook-en-gb-0123456789abcdef"]
    assert "Quokka" in visit.page.get_by_label("Which wear").inner_text()


def test_the_worker_reaches_no_page_but_the_notebook(visit):
    open_notebook(visit)
    visit.open("/pairs/")
    assert visit.page.evaluate("navigator.serviceWorker.controller") is None
    scopes = "navigator.serviceWorker.getRegistrations().then((all) => all.map((one) => new URL(one.scope).pathname))"
    assert visit.page.evaluate(scopes) == ["/notebook/en-gb/"]


def test_what_is_wrong_is_said_at_its_field_and_nothing_is_noted(visit):
    page = visit.page
    open_notebook(visit)
    page.get_by_role("button", name="Begin", exact=True).click()
    assert page.get_by_role("alert").get_by_role("link", name="Put on").is_visible()
    assert page.get_by_label("Put on", exact=True).get_attribute("aria-invalid") == "true"
    check(visit, "notebook-begin-faults")
    begin(page, unit="mmol/L")
    note_pair(page, "2031-01-17T08:00", "112", "5,4", "", "scheduled")
    form = page.locator("form[data-pair]")
    assert form.get_by_text("This lies before it was put on.").count() == 2
    assert form.get_by_text("In mmol/L a display shows 1.1 to 33.3. Is the unit right?").count() == 2
    assert form.get_by_label("Sensor", exact=False).first.get_attribute("aria-invalid") is None
    assert form.get_by_label("Fingerstick").input_value() == "112"
    assert page.locator(NOTES).count() == 0
    check(visit, "notebook-pair-faults")
    note_pair(page, "2031-01-17T08:30", "6,2", "5,4", "", "scheduled")
    assert "fingerstick 6.2, sensor 5.4, in mmol/L" in page.locator(NOTES).inner_text()


def test_a_note_is_changed_and_deleted(visit):
    page = visit.page
    open_notebook(visit)
    begin(page)
    note_pair(page, *PAIRS[0])
    page.get_by_role("button", name=re.compile("^Change")).click()
    page.locator("form[data-pair]").get_by_label("Fingerstick").fill("121")
    page.get_by_role("button", name="Note the pair").click()
    assert page.locator(NOTES).count() == 1
    assert "fingerstick 121" in page.locator(NOTES).inner_text()
    page.get_by_role("button", name=re.compile("^Delete: 2031")).click()
    assert page.locator(NOTES).count() == 0


def test_everything_is_saved_as_a_file_deleted_and_opened_again(visit, tmp_path):
    page = visit.page
    open_notebook(visit)
    fill_in(page)
    with page.expect_download() as table:
        page.get_by_role("button", name="Save the pairs as a table").click()
    lines = table.value.path().read_text().splitlines()
    assert lines[1:] == ["2031-01-17 09:14,112,98,,scheduled", "2031-01-20 21:47,58,,below,doubt"]
    with page.expect_download() as file:
        page.get_by_role("button", name="Save everything").click()
    saved = tmp_path / "notebook.json"
    file.value.save_as(saved)
    kept = page.evaluate("localStorage.getItem('commonwear-notebook')")
    page.get_by_role("button", name="Delete the whole notebook").click()
    check(visit, "notebook-delete")
    page.get_by_role("button", name="Keep them").last.click()
    assert page.evaluate("localStorage.length") == 1
    page.get_by_role("button", name="Delete the whole notebook").click()
    page.get_by_role("button", name="Delete everything now").click()
    assert page.evaluate("localStorage.length") == 0
    page.get_by_label("Open a file that was saved here").set_input_files(saved)
    page.get_by_text("What the file holds is in the notebook now.").wait_for()
    assert page.evaluate("localStorage.getItem('commonwear-notebook')") == kept
    other = {"name": "other.json", "mimeType": "application/json", "buffer": b'{"format":"notebook/1","wears":[{}]}'}
    page.get_by_label("Open a file that was saved here").set_input_files(other)
    page.get_by_text("other.json: this is no file that was saved here.").wait_for()
    assert page.evaluate("localStorage.getItem('commonwear-notebook')") == kept


def test_a_browser_that_keeps_nothing_says_so(visit):
    visit.page.add_init_script(
        "Storage.prototype.setItem = () => { throw new DOMException('full', 'QuotaExceededError'); };"
    )
    open_notebook(visit)
    begin(visit.page)
    assert visit.page.get_by_text("so nothing was noted").is_visible()
    assert visit.page.get_by_label("Put on", exact=True).input_value() == PUT_ON


def test_a_pair_is_noted_with_the_keyboard_alone(visit):
    page = visit.page
    open_notebook(visit)
    begin(page)
    form = page.locator("form[data-pair]")
    form.get_by_label("Day and time").fill(PAIRS[0][0])
    form.get_by_label("Fingerstick").focus()
    page.keyboard.type("112")
    page.keyboard.press("Tab")
    page.keyboard.type("98")
    page.keyboard.press("Enter")
    assert page.locator(NOTES).count() == 1
    assert form.get_by_label("Fingerstick").get_attribute("inputmode") == "decimal"


@pytest.mark.parametrize("language", ["en-gb", "de"])
def test_without_javascript_the_page_names_another_way(browser, live_server, edition, settings, language):
    settings.ALLOWED_HOSTS = ["localhost", "127.0.0.1"]
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{live_server.url}/notebook/{language}/")
    assert page.locator("noscript a[href='/log-sheet/']").count() == 1
    assert not page.locator("#notebook").is_visible()
    context.close()


def test_it_speaks_german(visit):
    visit.open("/notebook/de/")
    visit.page.get_by_text("Diese Seite liegt auf dem Gerät").wait_for()
    visit.page.locator("form[data-begin] button").click()
    assert visit.page.get_by_text("Geben Sie an, an welchem Tag").first.is_visible()
    check(visit, "notebook-german")


def test_light_and_dark(visit):
    open_notebook(visit)
    fill_in(visit.page)
    visit.page.emulate_media(color_scheme="dark")
    check(visit, "notebook-dark")
