"""Editions over HTTP: stored bytes under strong tags, one answer for all that is not there, and the caution."""

import hashlib
import json

import pytest
from rest_framework.test import APIClient

from pooling.caution import CAUTION_SHORT, CAUTION_TEXT, CAUTION_VERSION
from server.accounts.services import sign_in
from server.editions.models import Edition
from server.groups.models import Group
from tests.server.editions.village import STORY, standing_village

pytestmark = pytest.mark.django_db
EDITIONS = "/api/v1/groups/harbour/editions/"


@pytest.fixture(scope="module")
def published(django_db_setup, django_db_blocker, tmp_path_factory):
    """Edition 1 of the village."""
    with standing_village(django_db_blocker.unblock(), tmp_path_factory.mktemp("published")) as village:
        village.bring_wears(1)
        village.cut_off(1)
        village.publish()
        yield village


@pytest.fixture
def member(published):
    """Somebody of the village, signed in."""
    client = APIClient()
    token = sign_in(published.loaded.member_sign_in, STORY.password)
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {token}")
    return client


def test_an_edition_is_sent_as_the_bytes_that_are_stored(published, api):
    stored = Edition.objects.get(group=published.group)
    answer = api.get(f"{EDITIONS}1/")
    assert answer.content == bytes(stored.document)
    assert answer["ETag"] == f'"{stored.sha256}"'
    assert answer["Content-Type"] == "application/json"
    # Canonical JSON (RFC 8785, 3.2.3: members sorted by name; 3.2.1: no white space between tokens).
    document = json.loads(answer.content)
    assert list(document) == sorted(document)
    assert answer.content.startswith(b'{"about":{')


def test_a_numbered_edition_has_a_strong_tag_and_answers_304(published, api):
    first = api.get(f"{EDITIONS}1/")
    tag = f'"{hashlib.sha256(first.content).hexdigest()}"'
    assert first["ETag"] == tag
    assert first["Cache-Control"] == "public, max-age=60"
    assert "Authorization" in first["Vary"]
    again = api.get(f"{EDITIONS}1/", HTTP_IF_NONE_MATCH=tag)
    assert (again.status_code, again.content, again["ETag"]) == (304, b"", tag)
    assert api.get(f"{EDITIONS}1/", HTTP_IF_NONE_MATCH='"another"').status_code == 200
    assert api.head(f"{EDITIONS}1/")["ETag"] == tag


def test_the_latest_edition_is_asked_about_again_every_time(published, api):
    latest = api.get(f"{EDITIONS}latest/")
    assert latest["Cache-Control"] == "public, no-cache"
    assert latest.content == api.get(f"{EDITIONS}1/").content


def test_what_members_alone_may_read_is_kept_by_no_shared_cache(published, api, member):
    Group.objects.filter(slug="harbour").update(public=False)
    for path in ("1/", "latest/", "1/tables/sites.csv", "1/charts/sites.svg"):
        answer = member.get(EDITIONS + path)
        assert (answer.status_code, answer["Cache-Control"]) == (200, "private, no-cache")
        assert api.get(EDITIONS + path).status_code == 404


def test_the_list_names_editions_and_the_next_date(published, api):
    listed = api.get(EDITIONS).json()
    assert [(line["number"], line["cut_off"]) for line in listed["editions"]] == [(1, "2031-03-01")]
    assert listed["next_cut_off"] == "2031-04-01"
    assert listed["caution"]["version"] == CAUTION_VERSION


CHARTS = ("sites", "sites_by_model", "contrasts")
TABLES = (*CHARTS, "survival", "skin", "ratings")
FILES = {
    **{f"1/tables/{table}.csv": "text/csv; charset=utf-8" for table in TABLES},
    **{f"1/charts/{table}.svg": "image/svg+xml" for table in CHARTS},
    "1/charts/sites.png": "image/png",
    "1/charts/sites.json": "application/json",
}


def test_files_come_in_the_format_that_the_address_names(published, api):
    for path, media_type in FILES.items():
        for accept in ("*/*", media_type, "text/html"):
            answer = api.get(EDITIONS + path, HTTP_ACCEPT=accept)
            assert (answer.status_code, answer["Content-Type"]) == (200, media_type)
            assert answer["ETag"] == f'"{hashlib.sha256(answer.content).hexdigest()}"'
        assert api.get(EDITIONS + path, HTTP_IF_NONE_MATCH=answer["ETag"]).status_code == 304


def test_results_carry_the_caution(published, api):
    assert json.loads(api.get(f"{EDITIONS}1/").content)["caution"]["text"] == CAUTION_TEXT
    for table in TABLES:
        assert " ".join(CAUTION_TEXT.split()) in api.get(f"{EDITIONS}1/tables/{table}.csv").content.decode()
    for table in CHARTS:
        words = json.dumps(api.get(f"{EDITIONS}1/charts/{table}.json").json()).replace("\\n", " ")
        assert CAUTION_SHORT in words


MISSING = (
    "2/",
    "0/",
    f"{10**30}/",
    "1/tables/people.csv",
    "1/tables/sites.xml",
    "1/charts/people.svg",
    "1/charts/ratings.svg",
    "1/charts/sites.pdf",
    "2/tables/sites.csv",
    "2/charts/sites.png",
)


def test_what_is_not_there_is_not_found(published, api):
    assert {path: api.get(EDITIONS + path).status_code for path in MISSING} == dict.fromkeys(MISSING, 404)


def test_hidden_missing_and_foreign_editions_look_alike(published, stranger):
    hidden = {"slug": "hidden", "name": "Hidden", "public": False, "feeds_everyone": False}
    Group.objects.create(**hidden, wearers="mixed", founded_on="2031-01-01")
    Group.objects.filter(slug="harbour").update(public=False)
    bodies = {
        stranger.api.get(f"/api/v1/groups/{slug}/editions/{which}/").content
        for slug in ("harbour", "hidden", "nobody")
        for which in ("1", "latest")
    }
    assert len(bodies) == 1
