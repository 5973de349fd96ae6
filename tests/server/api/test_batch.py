import json
import uuid

import pytest

from server.accounts.models import Holding
from server.api.batch import MOST_AT_ONCE
from server.core.models import IdempotencyKey
from server.wears.models import Wear, WearPairs, WearSummary
from tests.server.records import CHILD, record

pytestmark = pytest.mark.django_db

BATCH, WEARS = "/api/v1/wears/batch/", "/api/v1/wears/"


def item(key="1", **changes):
    return {"key": key, "record": record(**changes)}


def post(member, *items, **more):
    body = items[0] if items and isinstance(items[0], bytes) else json.dumps({"wears": items})
    return member.api.generic("POST", BATCH, body, content_type="application/json", **more)


def verdicts(answer):
    assert answer.status_code == 200
    return [each["verdict"] for each in answer.json()["verdicts"]]


def n_stored():
    return {model.objects.count() for model in (Wear, WearPairs, WearSummary, Holding)}


def test_each_wear_is_stored_and_names_its_findings_and_its_report(contributor, catalogue):
    answer = post(contributor, item("1"), item("2", seed=2))
    assert verdicts(answer) == ["stored", "stored"]
    first, second = answer.json()["verdicts"]
    assert (first["pointer"], first["status"], second["pointer"]) == ("#/wears/0", 201, "#/wears/1")
    assert first["wear"]["findings"] == []
    assert contributor.api.get(first["wear"]["report_at"]).json()["n_pairs"] == 20
    assert {each["wear"]["id"] for each in (first, second)} == {str(wear.id) for wear in Wear.objects.all()}
    assert answer.json()["caution"]["text"]


def test_one_bad_record_stops_no_other_and_leaves_nothing_behind(contributor, catalogue):
    bad = item("2", side="up")
    bad["record"]["pairs"][3]["reference"] = "112"
    answer = post(contributor, item("1"), bad, item("3", seed=3))
    assert verdicts(answer) == ["stored", "refused", "stored"]
    told = answer.json()["verdicts"][1]
    assert (told["status"], told["problem"]["code"]) == (422, "invalid")
    pointers = {fault["pointer"] for fault in told["problem"]["faults"]}
    assert pointers == {"#/wears/1/record/side", "#/wears/1/record/pairs/3/reference"}
    assert n_stored() == {2}
    assert IdempotencyKey.objects.count() == 2


def test_sent_again_nothing_is_stored_twice_and_what_was_mended_is_stored(contributor, catalogue):
    first = post(contributor, item("1"), item("2", site="nose"))
    again = post(contributor, item("1"), item("2", seed=2))
    assert verdicts(first) == ["stored", "refused"]
    assert verdicts(again) == ["already_stored", "stored"]
    assert again.json()["verdicts"][0]["wear"] == first.json()["verdicts"][0]["wear"]
    assert n_stored() == {2}


def test_a_key_is_the_same_in_a_batch_and_alone(contributor, catalogue):
    alone = contributor.api.generic(
        "POST", WEARS, json.dumps(record()), content_type="application/json", HTTP_IDEMPOTENCY_KEY="1"
    )
    answer = post(contributor, item("1"))
    assert verdicts(answer) == ["already_stored"]
    assert answer.json()["verdicts"][0]["wear"]["id"] == alone.json()["id"]


def test_one_key_for_two_records_of_a_batch_is_a_fault_of_the_second(contributor, catalogue):
    answer = post(contributor, item("1"), item("1"), item("1", seed=2))
    assert verdicts(answer) == ["stored", "already_stored", "refused"]
    assert answer.json()["verdicts"][2]["problem"]["code"] == "key-used-otherwise"
    assert answer.json()["verdicts"][2]["problem"]["faults"][0]["pointer"] == "#/wears/2"


def test_each_item_may_be_about_somebody_else(contributor, catalogue):
    child = contributor.api.post("/api/v1/me/wearers/", CHILD).json()["id"]
    answer = post(contributor, item("1"), item("2", seed=2) | {"wearer": str(uuid.uuid4())}, HTTP_WEARER=child)
    assert verdicts(answer) == ["stored", "refused"]
    assert answer.json()["verdicts"][1]["status"] == 404
    assert str(Holding.objects.get().wearer_id) == child


@pytest.mark.parametrize(
    ("changes", "pointer"),
    [
        ({"key": ""}, "#/wears/0/key"),
        ({"key": "x" * 129}, "#/wears/0/key"),
        ({"key": 7}, "#/wears/0/key"),
        ({"colour": "red"}, "#/wears/0/colour"),
        ({"wearer": "me"}, "#/wears/0"),
        ({"record": []}, "#/wears/0/record"),
        ({"record": None}, "#/wears/0/record"),
    ],
    ids=str,
)
def test_a_bad_item_is_pointed_at(contributor, catalogue, changes, pointer):
    answer = post(contributor, item() | changes, item("2", seed=2))
    assert verdicts(answer) == ["refused", "stored"]
    faults = answer.json()["verdicts"][0]["problem"]["faults"]
    assert pointer in [fault["pointer"] for fault in faults]
    assert all(fault["message"] for fault in faults)


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        (b"", "#"),
        (b"{", "#"),
        (b"\xff\xfe", "#"),
        (b"[" * 100_000, "#"),
        (b"[]", "#"),
        (b"{}", "#/wears"),
        (b'{"wears": 3}', "#/wears"),
        (b'{"wears": [], "more": 1}', "#/more"),
        (json.dumps({"wears": [1] * (MOST_AT_ONCE + 1)}).encode(), "#/wears"),
    ],
    ids=["empty", "cut", "not UTF-8", "deep", "a list", "nothing", "a number", "an unknown field", "too many"],
)
def test_a_wrong_envelope_is_refused_as_a_whole(contributor, catalogue, body, pointer):
    answer = post(contributor, body)
    assert answer.status_code == 422
    assert answer["Content-Type"] == "application/problem+json"
    assert [fault["pointer"] for fault in answer.json()["faults"]] == [pointer]
    assert n_stored() == {0}


def test_a_full_batch_goes_in_and_more_bytes_than_a_body_may_hold_do_not(contributor, catalogue):
    full = post(contributor, *(item(str(seed), n_pairs=8, seed=seed) for seed in range(MOST_AT_ONCE)))
    assert verdicts(full) == ["stored"] * MOST_AT_ONCE
    assert post(contributor, b" " * (8 * 1024 * 1024 + 1)).status_code == 413


def test_an_empty_batch_does_nothing(contributor, catalogue):
    assert verdicts(post(contributor)) == []


def test_a_record_that_is_too_large_is_refused_alone(contributor, catalogue):
    large = item("1") | {"record": record() | {"padding": "x" * 1_000_000}}
    answer = post(contributor, large, item("2", seed=2))
    assert verdicts(answer) == ["refused", "stored"]
    assert answer.json()["verdicts"][0]["status"] == 413


def test_nobody_sends_a_batch_without_signing_in(api, catalogue):
    assert api.post(BATCH, {"wears": []}, format="json").status_code == 401
