"""Drafts over HTTP: started, read, discarded and published by moderators of the group and by nobody else."""

import hashlib
import json
from uuid import uuid4

from rest_framework.test import APIClient

from pooling.caution import CAUTION_VERSION
from server.editions.models import SealedRecord

EDITIONS = "/api/v1/groups/harbour/editions/"
DRAFTS = "/api/v1/groups/harbour/drafts/"


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


def test_a_second_edition_of_a_slot_is_a_conflict_that_says_what_to_do(sealed):
    address = sealed.moderator.api.post(DRAFTS)["Location"]
    sealed.run_due_jobs()
    assert sealed.moderator.api.post(f"{address}publish/").status_code == 201
    assert sealed.moderator.api.post(f"{address}publish/").status_code == 409
    refused = sealed.moderator.api.post(DRAFTS)
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
    assert "1 sum (block) speaks of fewer than 5 people" in draft["reasons"]
    assert sealed.moderator.api.post(f"{address}publish/").status_code == 409
