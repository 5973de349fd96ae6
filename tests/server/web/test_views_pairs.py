"""The page of pairs and the log sheet: without an account, and without anything being stored."""

import logging

import pytest
from django.apps import apps

from pooling.caution import CAUTION_SHORT
from server.accounts import throttles
from tests.server.canaries import database_bytes, found_in, reading
from tests.server.web.test_typed import sent

pytestmark = pytest.mark.django_db

VALUES = (217.31, 143.87, 98.43, 301.59, 176.21)
LINES = tuple((day, value, round(value * 1.1, 2)) for day, value in enumerate(VALUES, start=1))


def n_rows():
    return {model._meta.label: model._default_manager.count() for model in apps.get_models()}


def test_pairs_become_a_report_and_nothing_is_stored(client, caplog):
    before = n_rows()
    with caplog.at_level(logging.DEBUG):
        answer = client.post("/pairs/", sent(*LINES))
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "5 pairs measured" in page
    assert 'value="217.31"' in page
    after = n_rows()
    assert after.pop("accounts.Attempt") == before.pop("accounts.Attempt") + 1
    assert after == before
    canaries = [reading(value) for _, *pair in LINES for value in pair]
    assert found_in(database_bytes() + caplog.text.encode(), canaries) == []
    assert found_in(answer.content, canaries) != []  # they are where they may be
    assert answer["Cache-Control"] == "no-store"


def test_the_page_says_that_it_computes_on_the_server_and_stores_nothing(client):
    page = client.get("/pairs/").content.decode()
    assert "This page computes on the server and stores nothing" in page
    assert CAUTION_SHORT.replace("'", "&#x27;") in page
    assert page.count('inputmode="decimal"') == 20
    assert "<script" not in page


def test_what_is_wrong_comes_back_with_what_was_typed(client):
    answer = client.post("/pairs/", sent((1, 217.31, "abc"), (2, 9999, 100), site=""))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert page.count('aria-invalid="true"') == 2
    assert "3 things to put right" in page
    assert 'value="217.31"' in page
    assert 'value="abc"' in page


def test_the_unit_of_the_displays_is_remembered_like_any_other_choice(client):
    client.post("/pairs/", sent((1, 5.6, 6.2), unit="mmol/L"))
    assert 'value="mmol/L" checked' in client.get("/pairs/").content.decode()


def test_markup_that_is_typed_is_shown_as_typed(client):
    page = client.post("/pairs/", sent(('"><b>', "<script>", 1))).content.decode()
    assert "<script>" not in page
    assert "&lt;script&gt;" in page


def test_an_address_that_asks_too_often_keeps_what_was_typed(client, monkeypatch):
    monkeypatch.setitem(throttles.MOST_TRIES_PER_HOUR, "typed pairs", 1)
    first, second = (client.post("/pairs/", sent(*LINES)) for _ in range(2))
    assert (first.status_code, second.status_code) == (200, 422)
    assert "wait a while" in second.content.decode()
    assert 'value="217.31"' in second.content.decode()


def test_more_lines_are_not_counted_as_a_try(client, monkeypatch):
    monkeypatch.setitem(throttles.MOST_TRIES_PER_HOUR, "typed pairs", 0)
    answer = client.post("/pairs/", sent(*LINES, more="more"))
    assert answer.status_code == 200
    assert 'id="reference-15"' in answer.content.decode()


def test_the_form_comes_from_this_site(client):
    from django.test import Client

    assert Client(enforce_csrf_checks=True).post("/pairs/", sent(*LINES)).status_code == 403
    assert client.put("/pairs/").status_code == 405


def test_the_sheet_has_both_units_both_reasons_and_the_caution(client):
    page = client.get("/log-sheet/").content.decode()
    for words in ("mg/dL", "mmol/L", "Planned", "Doubt", "Keep to the instructions for use", CAUTION_SHORT):
        assert words.replace("'", "&#x27;") in page
    assert page.count("<tr>") == 25


def test_both_pages_are_reached_from_the_first_one(client):
    page = client.get("/").content.decode()
    assert page.count('href="/pairs/"') == 3
    assert page.count('href="/log-sheet/"') == 2
