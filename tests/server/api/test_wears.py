import json
import logging
import uuid
from uuid import UUID

import pytest
from django.apps import apps

from server.accounts.consents import CONSENT_VERSION
from server.groups.selectors import everyone
from server.wears import curating, cutoff, services
from tests.server.records import CHILD, pairs, record

pytestmark = pytest.mark.django_db

WEARS = "/api/v1/wears/"


def _n_rows():
    return {
        model._meta.label: model._default_manager.count()
        for config in apps.get_app_configs()
        if config.name.startswith("server.")
        for model in config.get_models()
    }


MINIMAL = {"Prefer": "return=minimal"}


def _post(member, content, key="a key", **more):
    body = content if isinstance(content, bytes) else json.dumps(content)
    return member.api.generic("POST", WEARS, body, content_type="application/json", HTTP_IDEMPOTENCY_KEY=key, **more)


def test_a_finished_wear_goes_in_and_its_report_comes_out(contributor, catalogue):
    answer = _post(contributor, record())
    assert answer.status_code == 201
    assert answer.json()["state"] == "private"
    report = answer.json()["report"]
    assert report["n_pairs"] == 20
    assert {"mard_pct", "bias_mg_dl", "within_15_15_pct", "within_20_20_pct", "consensus_zones_pct"} <= set(report)
    wear = answer.json()["id"]
    assert contributor.api.get(f"{WEARS}{wear}/report/").json()["mard_pct"] == report["mard_pct"]
    assert [line["id"] for line in contributor.api.get(WEARS).json()["wears"]] == [wear]
    assert contributor.api.get(f"{WEARS}{wear}/").json()["site"] == "thigh.front"


def test_every_fault_is_pointed_at_and_nothing_is_stored(contributor, catalogue):
    bad = record(side="up", worn_min=-1)
    bad["pairs"][3]["reference"] = "112"
    bad["pairs"][4]["clock"] = "08:15"
    del bad["site"]
    before = _n_rows()
    answer = _post(contributor, bad)
    assert answer.status_code == 422
    assert answer["Content-Type"] == "application/problem+json"
    pointers = {fault["pointer"] for fault in answer.json()["faults"]}
    assert {"#/side", "#/worn_min", "#/site", "#/pairs/3/reference", "#/pairs/4/clock"} <= pointers
    assert all(fault["message"] for fault in answer.json()["faults"])
    assert _n_rows() == before


@pytest.mark.parametrize("body", [b"", b"{", b"[]", b"\xff\xfe", b'{"format": "wear-record/2"}'])
def test_what_is_no_record_is_refused_in_words(contributor, catalogue, body):
    before = _n_rows()
    answer = _post(contributor, body)
    assert answer.status_code == 422
    assert answer.json()["faults"]
    assert _n_rows() == before


def test_a_model_that_is_not_in_the_catalogue_is_pointed_at(contributor, catalogue):
    answer = _post(contributor, record(sensor_model="demo-closed"))
    assert [fault["pointer"] for fault in answer.json()["faults"]] == ["#/sensor_model"]


def test_no_reading_of_a_bad_upload_is_in_an_answer_or_a_log(contributor, catalogue, caplog):
    canary = 217.31
    bad = record(pairs=[*pairs(), pairs(1)[0] | {"reference": canary, "sensor": 9999.75}])
    with caplog.at_level(logging.DEBUG):
        answer = _post(contributor, bad)
    assert answer.status_code == 422
    for text in (answer.content.decode(), caplog.text):
        assert "217.31" not in text
        assert "9999.75" not in text


def test_a_retry_gets_the_first_answer_and_is_done_once(contributor, catalogue):
    first, again = _post(contributor, record()), _post(contributor, record())
    assert (again.status_code, again.json()) == (first.status_code, first.json())
    assert len(contributor.api.get(WEARS).json()["wears"]) == 1


def test_one_key_is_for_one_body(contributor, catalogue):
    _post(contributor, record())
    answer = _post(contributor, record(seed=2))
    assert (answer.status_code, answer.json()["code"]) == (422, "key-used-otherwise")


def _fails(*_, **__):
    raise AssertionError


def test_who_prefers_it_is_answered_without_the_report(contributor, catalogue, monkeypatch):
    with monkeypatch.context() as meanwhile:
        meanwhile.setattr("server.wears.selectors.wear_report", _fails)
        answer = _post(contributor, record(n_pairs=3), headers=MINIMAL)
    assert (answer.status_code, answer.headers["Preference-Applied"]) == (201, "return=minimal")
    kept = answer.json()
    assert "report" not in kept
    report = contributor.api.get(kept["report_at"]).json()
    assert report["findings"] == kept["findings"] != []


def test_others_are_answered_with_it(contributor, catalogue):
    answer = _post(contributor, record(), headers={"Prefer": "return=representation"})
    assert answer.json()["report"]["n_pairs"] == 20
    assert not {"findings", "report_at"} & set(answer.json())
    assert "Preference-Applied" not in answer.headers


def test_a_key_repeats_an_equal_answer_in_either_form_whatever_was_uploaded_since(contributor, catalogue):
    first = _post(contributor, record(), key="1").json()
    short = _post(contributor, record(), key="1", headers=MINIMAL).json()
    assert short["findings"] == first["report"]["findings"] == []
    _post(contributor, record(), key="2")
    assert _post(contributor, record(), key="1").json() == first
    assert _post(contributor, record(), key="1", headers=MINIMAL).json() == short
    now = contributor.api.get(short["report_at"]).json()
    assert [finding["code"] for finding in now["findings"]] == ["own_duplicate"]


def test_a_key_is_needed(contributor, catalogue):
    answer = contributor.api.generic("POST", WEARS, json.dumps(record()), content_type="application/json")
    assert answer.status_code == 422
    assert "Idempotency-Key" in answer.json()["detail"]


def test_the_key_of_one_member_is_not_that_of_another(contributor, moderator, catalogue):
    first, second = _post(contributor, record()), _post(moderator, record(seed=2))
    assert first.status_code == second.status_code == 201


def test_own_duplicates_are_told_and_those_of_others_look_like_any_wear(contributor, moderator, stranger, catalogue):
    _post(contributor, record(), key="1")
    own = _post(contributor, record(), key="2").json()
    foreign = _post(moderator, record(), key="3").json()
    fresh = _post(stranger, record(seed=5), key="4").json()
    assert "own_duplicate" in {finding["code"] for finding in own["report"]["findings"]}
    assert foreign["report"]["findings"] == fresh["report"]["findings"]
    assert foreign.keys() == fresh.keys()


def test_somebody_elses_duplicate_is_answered_to_the_letter_like_a_first_upload(
    contributor, moderator, stranger, catalogue
):
    first, foreign = _post(contributor, record()), _post(moderator, record())
    assert foreign.status_code == first.status_code == 201
    assert _apart_from_id(foreign) == _apart_from_id(first)
    wear = foreign.json()["id"]
    assert moderator.api.get(f"{WEARS}{wear}/report/").json() == first.json()["report"]
    # Nor does it become one when the other is given and counted.
    _count(contributor, first.json()["id"])
    again = _post(stranger, record())
    assert again.status_code == 201
    assert _apart_from_id(again) == _apart_from_id(first)


def _apart_from_id(answer):
    return {name: value for name, value in answer.json().items() if name != "id"}


def _count(member, wear):
    """Let a wear be approved and counted, as far as its own row shows that."""
    services.give_to_group(UUID(wear), account=member.account, group=everyone())
    curating.approve(UUID(wear), group=everyone())
    cutoff.mark_waiting_slot(slot=1)
    cutoff.mark_admitted([UUID(wear)], family="accuracy", end_bucket=24)
    cutoff.show_states()


def test_a_wear_is_given_and_taken_back(contributor, group, catalogue):
    wear = _post(contributor, record()).json()["id"]
    given = contributor.api.put(f"{WEARS}{wear}/group/", {"group": "harbour"})
    assert (given.status_code, given.json()["group"], given.json()["state"]) == (200, "harbour", "queued")
    assert contributor.api.delete(f"{WEARS}{wear}/group/").status_code == 204
    assert contributor.api.get(f"{WEARS}{wear}/").json()["group"] is None


def test_taking_back_a_counted_wear_erases_it(contributor, catalogue):
    wear, stays = (_post(contributor, record(seed=seed), key=str(seed)).json()["id"] for seed in (1, 2))
    _count(contributor, wear)
    assert contributor.api.get(f"{WEARS}{wear}/").json()["state"] == "admitted"
    again = contributor.api.put(f"{WEARS}{wear}/group/", {"group": "everyone"})
    assert (again.status_code, again.json()["code"]) == (409, "conflict")
    assert contributor.api.delete(f"{WEARS}{wear}/group/").status_code == 204
    assert contributor.api.get(f"{WEARS}{wear}/").status_code == 404
    assert contributor.api.get(f"{WEARS}{wear}/report/").status_code == 404
    assert [line["id"] for line in contributor.api.get(WEARS).json()["wears"]] == [stays]
    # The kept answer went as well: the same key is a new request now.
    assert _post(contributor, record(), key="1").json()["id"] != wear


def test_giving_asks_for_the_switch_pool_and_says_so(contributor, group, catalogue):
    wear = _post(contributor, record()).json()["id"]
    contributor.api.post("/api/v1/me/consents/", {"scope": "pool", "given": False, "text_version": 1})
    answer = contributor.api.put(f"{WEARS}{wear}/group/", {"group": "harbour"})
    assert answer.status_code == 409
    assert "switch pool" in answer.json()["detail"]
    contributor.api.post("/api/v1/me/consents/", {"scope": "pool", "given": True, "text_version": CONSENT_VERSION})
    assert contributor.api.put(f"{WEARS}{wear}/group/", {"group": "harbour"}).status_code == 200


def test_own_wears_are_listed_by_their_random_ids(contributor, catalogue):
    ids = [_post(contributor, record(seed=seed), key=str(seed)).json()["id"] for seed in range(5)]
    assert [line["id"] for line in contributor.api.get(WEARS).json()["wears"]] == sorted(ids)


def test_with_the_account_go_its_wears(contributor, moderator, catalogue):
    for member in (contributor, moderator):
        _post(member, record())
    assert contributor.api.delete("/api/v1/me/").status_code == 204
    rows = _n_rows()
    assert {rows[label] for label in ("wears.Wear", "wears.WearPairs", "wears.WearSummary")} == {1}
    assert (rows["core.IdempotencyKey"], rows["accounts.Holding"]) == (1, 1)
    assert len(moderator.api.get(WEARS).json()["wears"]) == 1


def test_results_carry_the_caution(contributor, catalogue):
    wear = _post(contributor, record()).json()
    answers = [wear, *(contributor.api.get(f"{WEARS}{path}").json() for path in ("", f"{wear['id']}/"))]
    answers.append(contributor.api.get(f"{WEARS}{wear['id']}/report/").json())
    assert len({answer["caution"]["text"] for answer in answers}) == 1


def test_a_wear_may_be_given_straight_to_everyone(stranger, catalogue):
    wear = _post(stranger, record()).json()["id"]
    assert stranger.api.put(f"{WEARS}{wear}/group/", {"group": "everyone"}).json()["group"] == "everyone"


def test_a_hidden_group_and_one_that_is_not_there_look_alike(stranger, moderator, catalogue):
    hidden = {"slug": "cellar", "name": "Cellar", "feeds_everyone": False, "wearers": "mixed"}
    assert moderator.api.post("/api/v1/groups/", hidden).status_code == 201
    wear = _post(stranger, record()).json()["id"]
    answers = [stranger.api.put(f"{WEARS}{wear}/group/", {"group": slug}) for slug in ("cellar", "nowhere")]
    assert {answer.status_code for answer in answers} == {404}
    assert answers[0].json() == answers[1].json()


def test_a_public_group_says_that_it_has_to_be_joined_first(stranger, group, catalogue):
    wear = _post(stranger, record()).json()["id"]
    answer = stranger.api.put(f"{WEARS}{wear}/group/", {"group": "harbour"})
    assert (answer.status_code, answer.json()["code"]) == (409, "conflict")
    assert "Join it first" in answer.json()["detail"]


def test_erased_is_gone(contributor, catalogue):
    wear = _post(contributor, record()).json()["id"]
    assert contributor.api.delete(f"{WEARS}{wear}/").status_code == 204
    assert contributor.api.get(f"{WEARS}{wear}/").status_code == 404
    assert contributor.api.get(WEARS).json()["wears"] == []


@pytest.mark.parametrize("path", ["", "report/", "report.html", "report.png", "report.pdf", "group/"])
@pytest.mark.parametrize("method", ["get", "put", "delete"])
@pytest.mark.parametrize("name", ["moderator", "member_of_another_group", "stranger"])
def test_foreign_and_missing_wears_look_alike(request, give, contributor, name, path, method):
    wear = give(contributor).id
    call = getattr(request.getfixturevalue(name).api, method)
    body = {"data": {"group": "everyone"}} if method == "put" else {}
    foreign, missing = (call(f"{WEARS}{name}/{path}", **body) for name in (wear, uuid.uuid4()))
    assert (foreign.status_code, foreign.content) == (missing.status_code, missing.content)
    assert foreign.status_code in (404, 405)


@pytest.mark.parametrize(
    ("file_format", "media_type", "begins"),
    [("html", "text/html; charset=utf-8", b"<!doctype html>"), ("png", "image/png", b"\x89PNG")],
)
def test_the_report_comes_as_a_file_that_names_nobody(contributor, catalogue, file_format, media_type, begins):
    wear = _post(contributor, record()).json()["id"]
    answer = contributor.api.get(f"{WEARS}{wear}/report.{file_format}", HTTP_ACCEPT="application/xml")
    assert answer.status_code == 200
    assert answer["Content-Type"] == media_type
    assert answer["Content-Disposition"] == f'attachment; filename="wear-report.{file_format}"'
    assert answer["Cache-Control"] == "no-store"
    assert answer.content.startswith(begins)
    assert wear.encode() not in answer.content
    assert contributor.account.sign_in_name.encode() not in answer.content


@pytest.mark.parametrize("path", ["report/", "report.html"])
def test_the_reader_chooses_the_unit(contributor, catalogue, path):
    wear = _post(contributor, record()).json()["id"]
    own, chosen = (contributor.api.get(f"{WEARS}{wear}/{path}", query) for query in ({}, {"unit": "mmol/L"}))
    assert b"Beside a fingerstick of 100 mg/dL" in own.content
    assert b"Beside a fingerstick of 5.6 mmol/L" in chosen.content
    refused = contributor.api.get(f"{WEARS}{wear}/{path}", {"unit": "mmol"})
    assert refused.status_code == 422
    assert "mg/dL or mmol/L" in refused.json()["detail"]


def test_an_unknown_format_names_those_there_are(contributor, catalogue):
    wear = _post(contributor, record()).json()["id"]
    answer = contributor.api.get(f"{WEARS}{wear}/report.pdf")
    assert answer.status_code == 404
    assert "html, png" in answer.json()["detail"]


def test_nobody_uploads_without_signing_in(api, catalogue):
    assert api.post(WEARS, record(), format="json").status_code == 401


def test_the_catalogue_and_the_schema_are_open_to_all(api, catalogue):
    models = api.get("/api/v1/sensor-models/").json()["sensor_models"]
    assert [model["slug"] for model in models if model["open"]] == ["demo-a14", "demo-b10"]
    schema = api.get("/api/v1/wear-record.schema.json").json()
    assert schema["$schema"].endswith("2020-12/schema")
    assert schema["caution"]["text"]


@pytest.mark.parametrize(("named", "status"), [("child", 201), ("nobody", 404), ("nonsense", 422)])
def test_an_upload_may_be_about_a_child(contributor, catalogue, named, status):
    child = contributor.api.post("/api/v1/me/wearers/", CHILD).json()["id"]
    wearer = {"child": child, "nobody": str(uuid.uuid4())}.get(named, named)
    answer = _post(contributor, record(), HTTP_WEARER=wearer)
    assert answer.status_code == status


# Questions and appeals


def test_from_a_question_to_a_corrected_record(give, contributor, moderator):
    wear = give(contributor)
    queue = f"/api/v1/groups/harbour/curation/{wear.id}/"
    assert contributor.api.get(f"/api/v1/wears/{wear.id}/").json()["asked"] is None
    assert moderator.api.post(f"{queue}question/", {"question": "site"}).status_code == 201
    asked = contributor.api.get(f"/api/v1/wears/{wear.id}/").json()
    assert (asked["state"], asked["asked"]["code"], asked["asked"]["recorded"]) == ("asked", "site", "thigh.front")
    wrong = contributor.api.post(f"/api/v1/wears/{wear.id}/answer/", {"answer": "corrected", "value": "knee"})
    assert (wrong.status_code, wrong.json()["faults"][0]["pointer"]) == (422, "#/value")
    answered = contributor.api.post(f"/api/v1/wears/{wear.id}/answer/", {"answer": "corrected", "value": "calf"}).json()
    assert (answered["state"], answered["site"], answered["asked"]) == ("queued", "calf", None)
    assert moderator.api.get(queue).json()["site"] == "calf"
    assert contributor.api.post(f"/api/v1/wears/{wear.id}/answer/", {"answer": "confirmed"}).status_code == 409


def test_from_a_reason_to_an_appeal(give, contributor, moderator):
    from server.wears.cutoff import show_states

    wear = give(contributor)
    queue, own = f"/api/v1/groups/harbour/curation/{wear.id}/", f"/api/v1/wears/{wear.id}/"
    moderator.api.post(f"{queue}decision/", {"action": "exclude", "code": "stuck"})
    assert contributor.api.get(own).json()["left_out"] is None
    assert contributor.api.get(own).json()["ended_early"] == []
    assert contributor.api.post(f"{own}appeal/", {"ground": "readings_right"}).status_code == 409
    show_states()
    told = contributor.api.get(own).json()["left_out"]
    assert (told["code"], told["may_appeal"]) == ("stuck", True)
    assert contributor.api.post(f"{own}appeal/", {"ground": "because"}).status_code == 422
    assert contributor.api.post(f"{own}appeal/", {"ground": "readings_right"}).json()["state"] == "queued"
    seen = moderator.api.get(queue).json()
    assert (seen["state"], seen["appealed"]) == ("queued", True)


@pytest.mark.parametrize("call", [("answer", {"answer": "confirmed"}), ("appeal", {"ground": "rules_kept"})], ids=str)
def test_answers_and_appeals_are_the_owners(give, contributor, moderator, stranger, member_of_another_group, api, call):
    wear = give(contributor)
    word, body = call
    statuses = [
        one.post(f"/api/v1/wears/{wear.id}/{word}/", body).status_code
        for one in (api, stranger.api, member_of_another_group.api, moderator.api, contributor.api)
    ]
    assert statuses == [401, 404, 404, 404, 409]
