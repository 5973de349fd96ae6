import json
import uuid

import pytest

from server.accounts.models import RememberedMapping
from tests.server.canaries import database_bytes

pytestmark = pytest.mark.django_db

MAPPINGS = "/api/v1/me/mappings/"
WORDS = ["moment of the quokka", "sensor wombat", "wallaby remark"]


def mapping(**changes):
    return {
        "kind": "sensor",
        "header_line": 3,
        "roles": ["moment", "glucose", "ignored"],
        "glucose_unit": "mmol/L",
        "date_order": "day_first",
        "decimal": ",",
        "time_zone": "Europe/Lisbon",
        "header_hash_input": WORDS,
    } | changes


def put(member, **changes):
    return member.api.put(MAPPINGS, mapping(**changes), format="json")


def test_a_confirmed_mapping_is_remembered_listed_and_forgotten(contributor):
    kept = put(contributor)
    assert kept.status_code == 200
    listed = contributor.api.get(MAPPINGS).json()["mappings"]
    assert listed == [{name: value for name, value in kept.json().items() if name != "caution"}]
    assert listed[0]["roles"] == ["moment", "glucose", "ignored"]
    assert contributor.api.delete(f"{MAPPINGS}{listed[0]['id']}/").status_code == 204
    assert contributor.api.get(MAPPINGS).json()["mappings"] == []


def test_all_can_be_forgotten_at_once_and_nobody_elses(contributor, stranger):
    put(contributor), put(contributor, header_hash_input=["other"]), put(stranger)
    assert contributor.api.delete(MAPPINGS).status_code == 204
    assert contributor.api.get(MAPPINGS).json()["mappings"] == []
    assert len(stranger.api.get(MAPPINGS).json()["mappings"]) == 1


def test_no_header_word_and_no_place_is_in_an_answer_or_in_the_database(contributor):
    answers = put(contributor).content + contributor.api.get(MAPPINGS).content
    stored = database_bytes()
    assert b"mmol/L" in stored  # the mapping itself is there
    for word in (*WORDS, "quokka", "Lisbon"):
        assert word.encode() not in stored
        assert word.encode() not in answers


@pytest.mark.parametrize(
    ("changes", "pointer"),
    [
        ({"kind": "mood"}, "#/kind"),
        ({"roles": ["moment", "mood"]}, "#/roles"),
        ({"roles": []}, "#/roles"),
        ({"roles": ["ignored"] * 201}, "#/roles"),
        ({"roles": "moment"}, "#/roles"),
        ({"glucose_unit": "stones"}, "#/glucose_unit"),
        ({"date_order": "backwards"}, "#/date_order"),
        ({"decimal": "'"}, "#/decimal"),
        ({"header_hash_input": []}, "#/header_hash_input"),
    ],
    ids=str,
)
def test_what_is_no_mapping_is_refused_in_words(contributor, changes, pointer):
    answer = put(contributor, **changes)
    assert answer.status_code == 422
    assert [fault["pointer"] for fault in answer.json()["faults"]] == [pointer]
    assert not RememberedMapping.objects.exists()


@pytest.mark.parametrize("body", ["[]", "3", '"x"', "null", "{}"])
def test_a_body_of_another_shape_is_refused_too(contributor, body):
    answer = contributor.api.generic("PUT", MAPPINGS, body, content_type="application/json")
    assert answer.status_code == 422


def test_foreign_and_missing_mappings_look_alike(contributor, stranger):
    foreign = put(contributor).json()["id"]
    answers = [stranger.api.delete(f"{MAPPINGS}{one}/") for one in (foreign, uuid.uuid4())]
    assert {answer.status_code for answer in answers} == {404}
    assert answers[0].content == answers[1].content
    assert RememberedMapping.objects.count() == 1


def test_nobody_has_mappings_without_signing_in(api):
    answers = [api.get(MAPPINGS), api.put(MAPPINGS, mapping(), format="json"), api.delete(MAPPINGS)]
    assert {answer.status_code for answer in answers} == {401}


def test_the_number_is_limited_and_the_same_layout_counts_once(contributor, monkeypatch):
    monkeypatch.setattr("server.accounts.services.MOST_MAPPINGS", 2)
    statuses = [put(contributor, header_hash_input=[word]).status_code for word in ("a", "b", "b", "a", "c")]
    assert statuses == [200, 200, 200, 200, 409]
    assert json.loads(contributor.api.get(MAPPINGS).content)["mappings"]
