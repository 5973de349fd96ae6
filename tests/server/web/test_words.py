"""Texts of scripts: one file a language, the same for everybody, and complete."""

import json
import re

import pytest
from django.test import Client

from server.core import texts

pytestmark = pytest.mark.django_db


def catalogue_in(page):
    found = re.search(r"const newcatalog = (\{.*?\n  \});", page.content.decode(), re.DOTALL)
    return json.loads(found[1]) if found else {}


def test_german_comes_from_the_catalogue_and_english_stays_as_it_is():
    german, english = (Client().get(f"/words/{language}.js") for language in ("de", "en-gb"))
    assert catalogue_in(german)["Show what I type"] == "Zeigen, was ich tippe"
    assert "Show what I type" not in catalogue_in(english)
    assert german.headers["Content-Type"].startswith("text/javascript")


def test_the_address_says_the_language_and_nothing_else_does():
    asked = [Client().get("/words/de.js", headers={"accept-language": spoken}) for spoken in ("en", "de")]
    assert asked[0].content == asked[1].content
    assert asked[0].headers["Content-Language"] == "de"
    assert "max-age" in asked[0].headers["Cache-Control"]


def test_a_language_that_there_is_not_is_no_page():
    assert Client().get("/words/cy.js").status_code == 404


def test_every_text_of_scripts_is_said_in_german_with_the_same_holes():
    known = texts.read(texts.LOCALE / "de" / "LC_MESSAGES" / "djangojs.po")
    for message in texts.extracted("djangojs"):
        if not message.id:
            continue
        key = message.id[0] if isinstance(message.id, tuple) else message.id
        assert key in known, key
        said = known[key].string
        for text in said if isinstance(said, tuple) else (said,):
            assert text, key
            assert set(re.findall(r"%\(\w+\)s", text)) == set(re.findall(r"%\(\w+\)s", key)), key
