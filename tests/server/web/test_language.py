"""The language of a page: chosen at its foot, else the browser's first that there are texts in, else English."""

import pytest
from django.test import Client

pytestmark = pytest.mark.django_db


def language_of(response):
    return response.content.decode().split('<html lang="', 1)[1].split('"', 1)[0]


@pytest.fixture
def reader() -> Client:
    return Client()


@pytest.mark.parametrize(
    ("accepted", "spoken"),
    [
        ("", "en-gb"),
        ("de", "de"),
        ("de-AT,de;q=0.9,en;q=0.5", "de"),
        ("en-US,en;q=0.8,de;q=0.5", "en-gb"),
        ("cy", "en-gb"),
    ],
)
def test_a_page_speaks_the_first_language_of_the_browser_that_it_has(reader, accepted, spoken):
    page = reader.get("/", headers={"accept-language": accepted})
    assert language_of(page) == page.headers["Content-Language"] == spoken
    assert {"Accept-Language", "Cookie"} <= set(page.headers["Vary"].replace(" ", "").split(","))


def test_the_choice_at_the_foot_counts_more_than_the_browser_and_goes_back_to_the_page(reader):
    answer = reader.post("/language/", {"language": "de", "next": "/log-sheet/"}, headers={"accept-language": "en"})
    assert (answer.status_code, answer.headers["Location"]) == (302, "/log-sheet/")
    cookie = answer.cookies["language"]
    assert (cookie.value, cookie["httponly"], cookie["samesite"]) == ("de", True, "Lax")
    assert language_of(reader.get("/log-sheet/", headers={"accept-language": "en"})) == "de"
    reader.post("/language/", {"language": "en-gb"})
    assert language_of(reader.get("/log-sheet/", headers={"accept-language": "de"})) == "en-gb"


@pytest.mark.parametrize("language", ["xx", "", "../de"])
def test_a_language_that_there_is_not_changes_nothing(reader, language):
    answer = reader.post("/language/", {"language": language, "next": "https://elsewhere.example/"})
    assert answer.status_code == 302
    assert answer.headers["Location"] == "/"
    assert language_of(reader.get("/log-sheet/")) == "en-gb"


def test_the_api_speaks_english_whatever_the_browser_prefers(reader):
    english = reader.get("/api/v1/groups/nowhere/", headers={"accept-language": "en"})
    german = reader.get("/api/v1/groups/nowhere/", headers={"accept-language": "de"})
    assert german.content == english.content
    assert "Content-Language" not in german.headers
