import json
import logging
import uuid
from datetime import timedelta

import pytest
from django.apps import apps

from server.accounts import throttles
from server.core.alone import one_at_a_time
from server.core.models import SensorModel
from tests.server.exports import (
    OF_THE_RECORD,
    PREVIEW,
    TIMES,
    WORDS,
    meter_export,
    preview,
    sensor_export,
    trace,
)
from tests.server.records import CHILD, raw, record

pytestmark = pytest.mark.django_db

MAPPINGS = "/api/v1/me/mappings/"
TOLD = {"answers": TIMES | {"prompt": "scheduled"}, "record": OF_THE_RECORD}


def n_rows():
    """Every row but the keyed count of tries."""
    counts = {model._meta.label: model._default_manager.count() for model in apps.get_models()}
    return {label: n for label, n in counts.items() if label != "accounts.Attempt"}


def content(answer, status=200):
    assert answer.status_code == status, answer.content
    return answer.json()


def faults(answer):
    return [(fault["pointer"], fault["message"]) for fault in content(answer, 422)["faults"]]


# ---- exports ---------------------------------------------------------------------------------------------------------


def test_exports_become_pairs_a_whole_record_and_its_report(contributor, catalogue):
    found = content(preview(contributor, sensor_export(), meter_export(), told=TOLD))
    assert (found["complete"], found["questions"]) == (True, [])
    assert [each["mapping"]["kind"] for each in found["exports"]] == ["sensor", "meter"]
    assert found["exports"][0]["preview"][0] == list(WORDS)
    (wear,) = found["wears"]
    assert (wear["faults"], wear["unmatched"]) == ([], [])
    assert wear["record"]["worn_min"] == 3 * 24 * 60
    first = wear["record"]["pairs"][0]
    assert (first["elapsed_min"], first["gap_min"], first["source"], first["prompt"]) == (102, 2, "trace", "scheduled")
    by_hand = [abs(pair["sensor"] - pair["reference"]) / pair["reference"] * 100 for pair in wear["record"]["pairs"]]
    assert wear["report"]["mard_pct"] == pytest.approx(sum(by_hand) / len(by_hand), abs=0.005)
    assert found["caution"]["text"]


def test_the_record_of_a_preview_can_be_uploaded_as_it_is(contributor, catalogue):
    (wear,) = content(preview(contributor, sensor_export(), meter_export(), told=TOLD))["wears"]
    answer = contributor.api.generic(
        "POST", "/api/v1/wears/", json.dumps(wear["record"]), content_type="application/json", HTTP_IDEMPOTENCY_KEY="1"
    )
    uploaded = content(answer, 201)["report"]
    assert uploaded["n_pairs"] == wear["report"]["n_pairs"] == len(wear["record"]["pairs"])
    assert uploaded["mard_pct"] == wear["report"]["mard_pct"]


def test_nothing_is_stored_and_nothing_logged(contributor, catalogue, caplog):
    before = n_rows()
    with caplog.at_level(logging.DEBUG):
        content(preview(contributor, sensor_export(), meter_export(), told=TOLD))
        faults(preview(contributor, b"nothing of a table"))
    assert n_rows() == before
    assert not [entry for entry in caplog.records if not entry.name.startswith("django.db")]


def test_what_only_the_person_knows_is_asked(contributor, catalogue):
    found = content(preview(contributor, sensor_export(), meter_export()))
    assert not found["complete"]
    asked = {question["code"]: question for question in found["questions"]}
    assert asked["inserted"]["blocking"]
    assert found["wears"] == []


def test_a_wear_whose_record_is_not_whole_has_pairs_and_faults_and_no_report(contributor, catalogue):
    told = TOLD | {"record": {"site": "nose", "sensor_model": "demo-closed"}}
    (wear,) = content(preview(contributor, sensor_export(), meter_export(), told=told))["wears"]
    assert {fault["pointer"] for fault in wear["faults"]} == {"#/site", "#/end_reason", "#/assignment"}
    assert wear["report"] is None
    assert wear["record"]["pairs"]
    told = TOLD | {"record": OF_THE_RECORD | {"sensor_model": "demo-closed"}}
    (wear,) = content(preview(contributor, sensor_export(), meter_export(), told=told))["wears"]
    assert [fault["code"] for fault in wear["faults"]] == ["unknown_sensor_model"]


def test_fingersticks_without_a_pair_are_told_with_their_line_and_reason(contributor, catalogue):
    told = TOLD | {"answers": TOLD["answers"] | {"inserted": "2031-01-17T06:00:00"}}
    (wear,) = content(preview(contributor, sensor_export(), meter_export(), told=told))["wears"]
    assert [(one["line"], one["reason"]) for one in wear["unmatched"]] == [(2, "before_insertion")]
    assert wear["unmatched"][0]["says"] == "it was taken before the sensor was inserted"


def test_an_offset_of_the_clocks_is_shown_asked_about_and_taken_off_when_told(contributor, catalogue):
    late = sensor_export([(when - timedelta(minutes=61), value) for when, value in trace()])
    answers = TOLD["answers"] | {"inserted": "2031-01-17T02:10:27", "ended": "2031-01-20T02:10:27"}
    found = content(preview(contributor, late, meter_export(every=25), told=TOLD | {"answers": answers}))
    (wear,) = found["wears"]
    assert wear["clocks"]["verdict"] == "differs"
    assert wear["clocks"]["minutes"] == pytest.approx(63, abs=12)
    assert wear["clocks"]["taken_off_min"] == 0
    assert [question["code"] for question in found["questions"]] == ["apply_offset"]
    told = TOLD | {"answers": answers | {"apply_offset": True}}
    found = content(preview(contributor, late, meter_export(every=25), told=told))
    assert found["wears"][0]["clocks"]["taken_off_min"] == wear["clocks"]["minutes"]
    assert found["questions"] == []


def test_a_sheet_typed_by_hand_is_read_alone(contributor, catalogue):
    sheet = b"inserted;when;sensor mg/dL;fingerstick mg/dL;site\n" + b"\n".join(
        b"01.03.2031 08:00;%02d.03.2031 12:00;%d;%d;calf" % (day, 100 + day, 97 + 2 * day) for day in range(1, 14)
    )
    told = {"answers": {"ended": "2031-03-15T08:00:00", "prompt": "doubt"}, "record": OF_THE_RECORD | {"site": "chest"}}
    (wear,) = content(preview(contributor, sheet, told=told))["wears"]
    assert {pair["source"] for pair in wear["record"]["pairs"]} == {"display"}
    assert wear["clocks"] is None
    assert wear["report"]["site"] == "calf"  # the table speaks of this wear, what is told of all of them
    assert wear["report"]["n_pairs"] == 13


# ---- what is remembered ----------------------------------------------------------------------------------------------


def test_a_remembered_mapping_is_proposed_first(contributor, catalogue):
    plain = sensor_export(words=("seen", "one", "two"))
    rows = [line + b";100" for line in plain.splitlines()[1:]]
    twice = b"\n".join([b"seen;one;two", *rows])
    first = content(preview(contributor, twice, meter_export(), told=TOLD))
    assert "roles" in {question["code"] for question in first["questions"]}
    mapping = first["exports"][0]["mapping"] | {"kind": "sensor", "roles": ["moment", "glucose", "ignored"]}
    mapping |= {"glucose_unit": "mg/dL"}
    content(contributor.api.put(MAPPINGS, mapping, format="json"))
    again = content(preview(contributor, twice, meter_export(), told=TOLD))
    assert [each["remembered"] for each in again["exports"]] == [True, False]
    assert again["exports"][0]["mapping"]["roles"] == ["moment", "glucose", "ignored"]
    assert again["exports"][0]["preview"] == first["exports"][0]["preview"]
    assert again["complete"]
    told = TOLD | {"exports": [{"mapping": mapping | {"roles": ["moment", "ignored", "glucose"]}}]}
    corrected = content(preview(contributor, twice, meter_export(), told=told))
    assert not corrected["exports"][0]["remembered"]
    assert corrected["exports"][0]["mapping"]["roles"] == ["moment", "ignored", "glucose"]


def test_a_remembered_mapping_that_does_not_fit_this_file_is_passed_over(contributor, catalogue):
    mapping = content(preview(contributor, sensor_export(), meter_export(), told=TOLD))["exports"][0]["mapping"]
    content(contributor.api.put(MAPPINGS, mapping | {"glucose_unit": "mmol/L"}, format="json"))
    found = content(preview(contributor, sensor_export(), meter_export(), told=TOLD))
    assert found["complete"]
    assert not found["exports"][0]["remembered"]
    assert found["exports"][0]["mapping"]["glucose_unit"] == "mg/dL"


def test_nobody_elses_mapping_is_proposed(contributor, stranger, catalogue):
    mapping = content(preview(contributor, sensor_export(), meter_export(), told=TOLD))["exports"][0]["mapping"]
    content(contributor.api.put(MAPPINGS, mapping, format="json"))
    content(stranger.api.put(MAPPINGS, mapping | {"header_hash_input": ["other"]}, format="json"))
    found = content(preview(stranger, sensor_export(), meter_export(), told=TOLD))
    assert not found["exports"][0]["remembered"]


# ---- records ---------------------------------------------------------------------------------------------------------


def look_at(member, body, *, content_type="application/json", **more):
    return member.api.generic("POST", PREVIEW, body, content_type=content_type, **more)


def test_a_record_is_looked_at_as_the_upload_would(contributor, catalogue):
    before = n_rows()
    (wear,) = content(look_at(contributor, raw()))["wears"]
    assert n_rows() == before
    answer = contributor.api.generic(
        "POST", "/api/v1/wears/", raw(), content_type="application/json", HTTP_IDEMPOTENCY_KEY="1"
    )
    assert wear["report"] == content(answer, 201)["report"]


@pytest.mark.parametrize("named", ["Application/JSON", "application/json; charset=utf-8"])
def test_a_record_is_known_however_its_kind_is_spelled(contributor, catalogue, named):
    answer = look_at(contributor, raw(), content_type=named)
    assert content(answer) == content(look_at(contributor, raw()))


def test_a_body_of_a_kind_that_is_left_open_has_no_parts(contributor, catalogue):
    answer = look_at(contributor, raw(), content_type="application/*")
    assert answer.status_code == 422
    assert [fault["pointer"] for fault in answer.json()["faults"]] == ["#/file"]


@pytest.mark.parametrize(
    "body",
    [b"", b"{", b"\xff", raw(site="nose"), raw(sensor_model="demo-closed"), raw(worn_min=600), b" " * 1_000_001],
    ids=["empty", "cut", "not UTF-8", "site", "model", "after the end", "long"],
)
def test_a_bad_record_gets_the_answer_that_the_upload_would_give(contributor, catalogue, body):
    upload = contributor.api.generic(
        "POST", "/api/v1/wears/", body, content_type="application/json", HTTP_IDEMPOTENCY_KEY="1"
    )
    looked = look_at(contributor, body)
    assert looked.status_code == upload.status_code >= 400
    assert looked.json() == upload.json()


def test_whose_wear_it_is_decides_whether_the_site_is_off_label(contributor, catalogue):
    SensorModel.objects.filter(slug="demo-a14").update(licensed_sites=[{"site": "thigh.front", "ages": "adult"}])
    child = contributor.api.post("/api/v1/me/wearers/", CHILD).json()["id"]
    said = [
        content(look_at(contributor, raw(), **more))["wears"][0]["report"]["licence"]["status"]
        for more in ({}, {"HTTP_WEARER": child})
    ]
    assert said == ["named", "off_label_for_age"]


# ---- refusals --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "empty"),
        (b"%PDF-1.7", "a page for printing"),
        (b"PK\x03\x04broken", ""),
        (b"one line of words", "has a time and a reading side by side"),
        (bytes(range(256)) * 50, ""),
    ],
    ids=["empty", "a printed page", "a broken workbook", "words", "anything"],
)
def test_a_file_that_cannot_be_read_is_refused_with_its_place(contributor, catalogue, data, says):
    ((pointer, message),) = faults(preview(contributor, sensor_export(), data, told=TOLD))
    assert pointer == "#/file/1"
    assert says in message


@pytest.mark.parametrize(
    ("told", "pointer"),
    [
        ("{", "#/told"),
        ("[]", "#/told"),
        ('{"more": 1}', "#/told/more"),
        ({"answers": {"mood": 1}}, "#/told/answers/mood"),
        ({"answers": {"inserted": "yesterday"}}, "#/told/answers/inserted"),
        ({"answers": {"prompt": "mood"}}, "#/told/answers/prompt"),
        ({"answers": TIMES | {"ended": TIMES["inserted"]}}, "#/told/answers"),
        ({"answers": TIMES | {"tolerance_min": 99}}, "#/told/answers"),
        ({"exports": [{"mapping": {"kind": "mood"}}]}, "#/told/exports/0/mapping/kind"),
        ({"exports": [{}, {}, {}]}, "#/told/exports"),
        ({"exports": [{"sheet": "Nowhere"}]}, "#/file/0"),
        ({"record": []}, "#/told/record"),
    ],
    ids=str,
)
def test_what_is_wrong_with_what_was_told_is_pointed_at(contributor, catalogue, told, pointer):
    answer = preview(contributor, sensor_export(), meter_export(), told=told)
    assert [fault[0] for fault in faults(answer)] == [pointer]
    assert "yesterday" not in answer.content.decode()


@pytest.mark.parametrize("n_files", [0, 5])
def test_one_to_four_files_are_looked_at(contributor, catalogue, n_files):
    assert faults(preview(contributor, *[sensor_export()] * n_files))[0][0] == "#/file"


def test_parts_that_nobody_asked_for_are_refused(contributor, catalogue):
    answer = contributor.api.post(PREVIEW, {"mood": "good"}, format="multipart")
    assert faults(answer) == [("#/mood", "There is no such part.")]


def test_more_parts_than_any_call_needs_are_refused_in_words(contributor, catalogue):
    answer = contributor.api.post(PREVIEW, {f"field{n}": "x" for n in range(2001)}, format="multipart")
    assert content(answer, 400)["code"] == "parse-error"


def test_no_reading_and_no_time_is_in_a_refusal(contributor, catalogue):
    when, value = trace()[1]
    shown = f"{value:.2f}"
    odd = sensor_export().replace(shown.encode(), f"{shown} or so".encode(), 1)
    text = str(faults(preview(contributor, odd, meter_export(), told=TOLD)))
    assert "Line 3, column 2" in text
    for secret in (shown, f"{when:%H:%M}", f"{when:%Y-%m-%d}"):
        assert secret not in text


def test_looking_is_throttled(contributor, stranger, catalogue, monkeypatch):
    monkeypatch.setitem(throttles.MOST_TRIES_PER_HOUR, "preview", 2)
    answers = [look_at(contributor, raw()) for _ in range(3)]
    assert [answer.status_code for answer in answers] == [200, 200, 429]
    assert 0 < int(answers[2]["Retry-After"]) <= 3600
    assert look_at(stranger, raw()).status_code == 200


@pytest.mark.parametrize(("wearer", "status"), [(str(uuid.UUID(int=7)), 404), ("nonsense", 422)])
def test_the_wearer_has_to_be_ones_own(contributor, catalogue, wearer, status):
    assert look_at(contributor, raw(), HTTP_WEARER=wearer).status_code == status


def test_nobody_looks_without_signing_in(api, catalogue):
    assert api.post(PREVIEW, record(), format="json").status_code == 401


def test_one_account_has_one_set_of_files_read_at_a_time(contributor, stranger, catalogue):
    files = sensor_export(trace()), meter_export()
    with one_at_a_time(contributor.account.pk):
        told_to_wait, others = preview(contributor, *files), preview(stranger, *files)
    assert (told_to_wait.status_code, others.status_code) == (429, 200)
    assert int(told_to_wait["Retry-After"]) > 0
    assert preview(contributor, *files).status_code == 200
