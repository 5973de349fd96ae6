"""The notebook's page is the same for everybody, and the script that keeps it changes whenever the page does."""

import json
import re

import pytest
from django.test import Client

from server.web import notebook

pytestmark = pytest.mark.django_db


def kept(answer):
    return json.loads(re.match(r"const KEPT = (\{.*\});", answer.content.decode())[1])


def test_it_leads_to_the_page_in_the_language_of_the_visitor():
    answer = Client().get("/notebook/", headers={"accept-language": "de"})
    assert (answer.status_code, answer.headers["Location"]) == (302, "/notebook/de/")


def test_the_page_is_the_same_for_a_member_and_for_anybody(browser_of, contributor):
    anybody, member = (visitor.get("/notebook/de/") for visitor in (Client(), browser_of(contributor)))
    assert anybody.content == member.content
    assert b"csrfmiddlewaretoken" not in anybody.content
    assert contributor.sign_in_name.encode() not in member.content
    assert "Set-Cookie" not in anybody.headers


def test_the_page_says_where_notes_are_and_carries_the_caution():
    page = Client().get("/notebook/en-gb/").content.decode()
    assert "Your notes are kept in this browser, on this device, and nowhere else." in page
    assert "Whoever can use this browser can read them." in page
    assert "Do not use them to dose insulin" in page
    assert '<noscript><p class="warning">' in page


def test_everything_that_is_kept_can_be_fetched_without_a_session():
    told = kept(Client().get("/notebook/de/worker.js"))
    pages = [address for address in told["addresses"] if not address.startswith("/static/")]
    assert pages == ["/notebook/de/", "/words/de.js"]
    assert [Client().get(address).status_code for address in pages] == [200, 200]


def test_every_file_that_the_page_and_its_scripts_name_is_kept():
    for name in (*notebook.LINKED, *notebook.IMPORTED):
        source = notebook.SOURCES / name
        for imported in re.findall(r'from "(\./|\.\./)([\w.]+)"', source.read_text(encoding="utf-8")):
            place = source.parent if imported[0] == "./" else source.parent.parent
            assert (place / imported[1]).relative_to(notebook.SOURCES).as_posix() in notebook.IMPORTED
    page = Client().get("/notebook/de/").content.decode()
    linked = set(re.findall(r'(?:src|href)="/static/([^"]+)"', page))
    assert linked == set(notebook.LINKED)


def test_the_worker_is_asked_for_each_time_and_differs_when_a_file_does(monkeypatch, tmp_path):
    first = Client().get("/notebook/de/worker.js")
    assert "no-cache" in first.headers["Cache-Control"]
    assert kept(first)["version"] == kept(Client().get("/notebook/de/worker.js"))["version"]
    for name in (*notebook.LINKED, *notebook.IMPORTED, notebook.WORKER):
        copy = tmp_path / name
        copy.parent.mkdir(parents=True, exist_ok=True)
        copy.write_bytes((notebook.SOURCES / name).read_bytes())
    (tmp_path / "web/device/notes.js").write_text("// another", encoding="utf-8")
    monkeypatch.setattr(notebook, "SOURCES", tmp_path)
    assert kept(Client().get("/notebook/de/worker.js"))["version"] != kept(first)["version"]


def test_a_language_that_there_is_not_is_no_page():
    assert [Client().get(f"/notebook/cy/{file}").status_code for file in ("", "worker.js")] == [404, 404]
