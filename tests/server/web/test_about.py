import pytest
from django.db import DatabaseError

from server.core.processing import telling_fields
from server.web import about

pytestmark = pytest.mark.django_db


def test_anybody_can_read_who_answers_for_members_data(client, settings):
    settings.OPERATOR = {
        "controller": "Harbour Society",
        "contact": "data@society.example",
        "country": "Lakeland",
        "legal_basis": "explicit consent",
        "minors": "adults-only",
    }
    page = client.get("/about-data/").content.decode()
    assert all(said in page for said in ("Harbour Society", "data@society.example", "Lakeland", "wears of adults only"))
    for fields in telling_fields().values():
        assert all(field.purpose.split("'")[0] in page for field in fields.values())
    assert "About members’ data" in client.get("/").content.decode()


def test_where_nobody_answers_the_page_says_so(client, settings):
    settings.OPERATOR = dict.fromkeys(settings.OPERATOR)
    assert "not open to the public" in client.get("/about-data/").content.decode()


def test_the_page_of_notices_says_when_there_was_none(client):
    assert "There has been none." in client.get("/notices/").content.decode()


def test_a_database_that_is_away_breaks_no_page_that_says_so(monkeypatch):
    def away():
        raise DatabaseError

    monkeypatch.setattr(about, "standing_notices", away)
    assert about.notices_on_every_page(None)["notices"] == []
