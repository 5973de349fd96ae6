"""The page about the API names every call there is, and its examples do what it says."""

import json
import re

import pytest

from pooling.preparation import Answers
from server.api.urls import urlpatterns
from tests.house.tree import ROOT
from tests.server.exports import meter_export, preview, sensor_export

PAGE = (ROOT / "docs" / "API.md").read_text(encoding="utf-8")
EXAMPLES = [json.loads(text) for text in re.findall(r"```json\n(.*?)```", PAGE, re.DOTALL)]
RECORD = next(one for one in EXAMPLES if one.get("format") == "wear-record/1")
REFUSAL, UNREADABLE = (one for one in EXAMPLES if one.get("status") == 422)
VERDICTS = next(one for one in EXAMPLES if "verdicts" in one)["verdicts"]
DECISION = next(one for one in EXAMPLES if "chain_hash" in one)


def shape(address: str) -> str:
    """An address with every part that varies written alike: `/groups/<slug:slug>/` as `/groups/{slug}/` is."""
    return re.sub(r"<[^>]*>|\{[^}]*\}", "*", address.lstrip("/"))


def documented() -> set[tuple[str, str]]:
    """Each method with each address of the first cell of a line."""
    cells = [line.split("|")[1] for line in PAGE.splitlines() if line.startswith("| `")]
    return {
        (method, shape(address))
        for cell in cells
        for method in re.findall(r"[A-Z]{3,}", cell)
        for address in re.findall(r"/[^`\s]*", cell)
    }


def routed() -> set[tuple[str, str]]:
    """Every call but that for the description itself, which stands above the tables, and to whatever is no address."""
    calls = {
        (method.upper(), shape(str(route.pattern)))
        for route in urlpatterns
        for method in ("get", "post", "put", "patch", "delete")
        if hasattr(route.callback.cls, method)
    }
    return calls - {("GET", "schema/")}


def test_every_call_is_on_the_page_and_every_call_on_the_page_is_there():
    assert documented() == routed()


def upload(member, record, key="a key"):
    return member.api.generic(
        "POST", "/api/v1/wears/", json.dumps(record), content_type="application/json", HTTP_IDEMPOTENCY_KEY=key
    )


@pytest.mark.django_db
def test_the_wear_of_the_page_is_taken(contributor, catalogue):
    assert upload(contributor, RECORD).status_code == 201


@pytest.mark.django_db
def test_the_faults_of_the_page_are_found(contributor, catalogue):
    bad = json.loads(json.dumps(RECORD))
    bad["site"], bad["pairs"][0]["reference"] = "thigh", "112"
    answer = upload(contributor, bad).json()
    assert {**answer, "faults": None, "caution": None} == {**REFUSAL, "faults": None, "caution": None}
    assert [(each["pointer"], each["code"]) for each in answer["faults"]] == [
        (each["pointer"], each["code"]) for each in REFUSAL["faults"]
    ]
    assert all(
        found["message"].startswith(shown["message"].rstrip("…"))
        for found, shown in zip(answer["faults"], REFUSAL["faults"], strict=True)
    )


@pytest.mark.django_db
def test_the_export_of_the_page_is_refused_so(contributor):
    answer = preview(contributor, sensor_export(), b"%PDF-1.7").json()
    assert answer | {"caution": None} == UNREADABLE | {"caution": None}


@pytest.mark.django_db
def test_what_the_page_tells_of_exports_is_understood(contributor, catalogue):
    told = json.loads(re.search(r"'told=(\{.*\})'", PAGE)[1])
    answer = preview(contributor, sensor_export(), meter_export(), told=told)
    assert answer.status_code == 200
    (wear,) = answer.json()["wears"]
    assert wear["record"]["site"] == told["record"]["site"]
    named = {
        name for line in PAGE.splitlines() if line.startswith("| `answers`") for name in re.findall("`([a-z_]+)`", line)
    }
    assert named - {"answers"} == set(Answers.__struct_fields__)


@pytest.mark.django_db
def test_the_batch_of_the_page_gets_its_verdicts(contributor, catalogue):
    upload(contributor, RECORD, key="first")
    items = [{"key": "first", "record": RECORD}, {"key": "second", "record": RECORD | {"site": "thigh"}}]
    body = json.dumps({"wears": items})
    answer = contributor.api.generic("POST", "/api/v1/wears/batch/", body, content_type="application/json").json()
    known, refused = answer["verdicts"]
    assert [known | {"wear": None}, refused["verdict"]] == [VERDICTS[0] | {"wear": None}, VERDICTS[1]["verdict"]]
    assert refused["problem"] | {"faults": None} == VERDICTS[1]["problem"] | {"faults": None}
    shown = VERDICTS[1]["problem"]["faults"]
    assert [fault["pointer"] for fault in refused["problem"]["faults"]] == [fault["pointer"] for fault in shown]


@pytest.mark.django_db
def test_the_decision_of_the_page_is_one(give, contributor, moderator):
    wear = give(contributor)
    sent = {"action": DECISION["action"], "code": DECISION["code"]}
    answer = moderator.api.post(f"/api/v1/groups/harbour/curation/{wear.id}/decision/", sent)
    assert answer.status_code == 201
    assert answer.json().keys() == DECISION.keys()


@pytest.mark.django_db
def test_the_group_of_the_page_is_founded(stranger):
    body = json.loads(re.search(r"'(\{\"slug\".*\})'", PAGE)[1])
    assert stranger.api.post("/api/v1/groups/", body).status_code == 201
    assert stranger.api.get(f"/api/v1/groups/{body['slug']}/protocol/").json()["fewest_pairs"] == 10
