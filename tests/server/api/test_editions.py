"""Editions and drafts over HTTP: stored bytes under strong tags, one answer for all that is not there, the caution."""

import hashlib
import json
from uuid import uuid4

import pytest
from rest_framework.test import APIClient

from pooling.caution import CAUTION_TEXT, CAUTION_VERSION
from server.editions.models import SealedRecord
from server.groups.models import Group

EDITIONS = "/api/v1/groups/harbour/editions/"
DRAFTS = "/api/v1/groups/harbour/drafts/"


@pytest.fixture
def published(sealed):
    """Edition 1 of the group, made and published over HTTP."""
    moderator = sealed.moderator.api
    started = moderator.post(DRAFTS)
    assert started.status_code == 202
    sealed.run_due_jobs()
    answer = moderator.post(f"{started['Location']}publish/")
    assert answer.status_code == 201
    return sealed


def test_a_draft_goes_from_started_to_published(sealed):
    moderator = sealed.moderator.api
    started = moderator.post(DRAFTS)
    assert started["Location"] == f"{DRAFTS}{started.json()['id']}/"
    assert {part["state"] for part in started.json()["parts"]} == {"due"}
    sealed.run_due_jobs()
    draft = moderator.get(started["Location"]).json()
    assert (draft["state"], draft["reasons"], draft["overtaken"]) == ("ready", [], False)
    assert {row["site"] for row in draft["document"]["tables"]["sites"]} == {"thigh.front", "abdomen.flank"}
    assert draft["caution"]["version"] == CAUTION_VERSION
    published = moderator.post(f"{started['Location']}publish/")
    assert published.status_code == 201
    assert published["Location"] == f"{EDITIONS}1/"
    assert published.json()["caution"]["version"] == CAUTION_VERSION
    edition = APIClient().get(published["Location"])
    assert hashlib.sha256(edition.content).hexdigest() == published.json()["sha256"]
    assert json.loads(edition.content) == draft["document"]


def test_a_second_draft_and_a_second_publication_are_conflicts_that_say_what_to_do(published):
    refused = published.moderator.api.post(DRAFTS)
    assert refused.status_code == 409
    assert refused["Content-Type"] == "application/problem+json"
    assert "2031-04-01" in refused.json()["detail"]


def test_a_discarded_draft_makes_room(sealed):
    moderator = sealed.moderator.api
    address = moderator.post(DRAFTS)["Location"]
    assert moderator.post(DRAFTS).status_code == 409
    assert moderator.delete(address).status_code == 204
    assert moderator.get(address).json()["state"] == "discarded"
    assert moderator.post(f"{address}publish/").status_code == 409
    assert moderator.post(DRAFTS).status_code == 202


def test_an_overtaken_draft_is_a_conflict(sealed):
    moderator = sealed.moderator.api
    address = moderator.post(DRAFTS)["Location"]
    sealed.run_due_jobs()
    sealed.cut_off(2)
    assert moderator.get(address).json()["overtaken"] is True
    refused = moderator.post(f"{address}publish/")
    assert refused.status_code == 409
    assert "Discard it and start a new one" in refused.json()["detail"]


def test_a_moderator_finds_the_drafts_of_the_group_and_their_states(sealed):
    moderator = sealed.moderator.api
    assert moderator.get(DRAFTS).json()["drafts"] == []
    first = moderator.post(DRAFTS).json()["id"]
    sealed.run_due_jobs()
    sealed.cut_off(2)
    second = moderator.post(DRAFTS).json()["id"]
    listed = moderator.get(DRAFTS).json()
    assert listed["drafts"] == [
        {"id": second, "number": 2, "state": "fitting", "overtaken": False},
        {"id": first, "number": 1, "state": "ready", "overtaken": True},
    ]
    assert listed["caution"]["version"] == CAUTION_VERSION


CAST = {None: 401, "contributor": 403, "stranger": 404, "member_of_another_group": 404}


def test_drafts_need_a_moderator_of_the_same_group(sealed, api, request):
    address = sealed.moderator.api.post(DRAFTS)["Location"]
    calls = [
        ("get", DRAFTS),
        ("post", DRAFTS),
        ("get", address),
        ("delete", address),
        ("post", f"{address}publish/"),
    ]
    for name, status in CAST.items():
        client = request.getfixturevalue(name).api if name else api
        assert {call: getattr(client, call[0])(call[1]).status_code for call in calls} == dict.fromkeys(calls, status)
    assert sealed.moderator.api.get(f"{DRAFTS}{uuid4()}/").status_code == 404


def test_a_draft_is_not_found_under_another_group_though_both_have_the_same_moderator(sealed):
    sealed.found("moor")
    draft = sealed.moderator.api.post(DRAFTS).json()["id"]
    address = f"/api/v1/groups/moor/drafts/{draft}/"
    assert sealed.moderator.api.get(address).status_code == 404
    assert sealed.moderator.api.delete(address).status_code == 404
    assert sealed.moderator.api.post(f"{address}publish/").status_code == 404


def test_a_refused_draft_says_why_and_cannot_be_published(sealed):
    block = SealedRecord.objects.filter(kind="block").first()
    block.places.filter(pk__in=block.places.values_list("pk", flat=True)[:2]).delete()
    address = sealed.moderator.api.post(DRAFTS)["Location"]
    sealed.run_due_jobs()
    draft = sealed.moderator.api.get(address).json()
    assert (draft["state"], draft["document"]) == ("refused", None)
    assert draft["reasons"] == ["1 sum (block) speaks of fewer than 5 people"]
    assert sealed.moderator.api.post(f"{address}publish/").status_code == 409


def test_a_numbered_edition_has_a_strong_tag_and_answers_304(published, api):
    first = api.get(f"{EDITIONS}1/")
    tag = f'"{hashlib.sha256(first.content).hexdigest()}"'
    assert first["ETag"] == tag
    assert first["Cache-Control"] == "public, max-age=3600"
    assert "Authorization" in first["Vary"]
    again = api.get(f"{EDITIONS}1/", HTTP_IF_NONE_MATCH=tag)
    assert (again.status_code, again.content, again["ETag"]) == (304, b"", tag)
    assert api.get(f"{EDITIONS}1/", HTTP_IF_NONE_MATCH='"another"').status_code == 200
    assert api.head(f"{EDITIONS}1/")["ETag"] == tag


def test_the_latest_edition_is_asked_about_again_every_time(published, api):
    latest = api.get(f"{EDITIONS}latest/")
    assert latest["Cache-Control"] == "public, no-cache"
    assert latest.content == api.get(f"{EDITIONS}1/").content


def test_what_members_alone_may_read_is_kept_by_no_shared_cache(published, api):
    Group.objects.filter(slug="harbour").update(public=False)
    for path in ("1/", "latest/", "1/tables/sites.csv", "1/charts/sites.svg"):
        answer = published.crowd[0].api.get(EDITIONS + path)
        assert (answer.status_code, answer["Cache-Control"]) == (200, "private, no-cache")
        assert api.get(EDITIONS + path).status_code == 404


def test_the_list_names_editions_and_the_next_date(published, api):
    listed = api.get(EDITIONS).json()
    assert [(line["number"], line["cut_off"]) for line in listed["editions"]] == [(1, "2031-03-01")]
    assert listed["next_cut_off"] == "2031-04-01"
    assert listed["caution"]["version"] == CAUTION_VERSION


FILES = {
    "1/tables/sites.csv": "text/csv; charset=utf-8",
    "1/charts/sites.svg": "image/svg+xml",
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
    assert " ".join(CAUTION_TEXT.split())[:60] in api.get(f"{EDITIONS}1/tables/sites.csv").content.decode()


MISSING = (
    "2/",
    "0/",
    f"{10**30}/",
    "1/tables/people.csv",
    "1/tables/sites.xml",
    "1/charts/people.svg",
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
