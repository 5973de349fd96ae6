"""The export: every field that is promised is there, with what is really stored, and nothing of anybody else."""

import csv
import io
import json
from datetime import date

import pytest

from pooling.caution import CAUTION_TEXT
from server.accounts.models import Consent
from server.accounts.plans import register_plan
from server.accounts.services import add_wearer, link_labels, remember_mapping
from server.api.exported import EXPORTED
from server.core.clock import today
from server.curation import looks
from server.curation.models import Look
from server.curation.services import approve_wear, exclude_wear
from server.editions.models import Place, RecordKind, SealedRecord
from server.groups.rounds import join_round, open_round
from server.wears.cutoff import show_states
from server.wears.models import WearPairs
from tests.server.records import A_CHILD, pairs, record

pytestmark = pytest.mark.django_db
MAPPING = {
    "kind": "meter",
    "header_line": 1,
    "roles": ["moment", "reference"],
    "glucose_unit": "mg/dL",
    "date_order": "day_first",
    "decimal": ".",
    "time_zone": None,
    "header_hash_input": ["when", "value"],
}

PLAN = {"spots": [{"site": "calf"}, {"site": "chest"}], "sensor_model": "demo-a14"}


@pytest.fixture
def member(give, upload, contributor, moderator, group, client):
    """Somebody with something in every table that can hold it."""
    child = add_wearer(contributor.account, **A_CHILD)
    upload(contributor, wearer=child, seed=7)
    remember_mapping(contributor.account, MAPPING)
    register_plan(contributor.account, PLAN, wearer=child)
    client.force_login(contributor.account)
    opened = open_round(
        group,
        by=moderator.account,
        sensor_model="demo-a14",
        sites=["calf", "chest"],
        start_month=today(),
    )
    join_round(group, opened.id, account=contributor.account)
    excluded, waiting = give(contributor, seed=3), give(contributor, seed=4)
    exclude_wear(group, excluded.id, code="stuck", by=moderator.account)
    approve_wear(group, waiting.id, by=moderator.account)
    show_states()
    look = Look(moderator_mark="5e" * 16, wear_mark=looks._wear_marks(waiting.id)[-1], on_day=date(2026, 1, 31))
    look.save()
    waiting.awaited.create(family="accuracy", since_slot=1)
    sums = SealedRecord.objects.create(
        kind=RecordKind.BLOCK, scope=group.scope, place="thigh.front", end_bucket=24, seal_version=1, k=5, payload={}
    )
    place = Place.objects.create(record=sums, n_wears=1, q1=[1], q2=[2])
    link_labels([(place.label, contributor.account.pk, child.pk)])
    body = json.dumps(record(seed=5))
    contributor.api.generic(
        "POST", "/api/v1/wears/", body, content_type="application/json", HTTP_IDEMPOTENCY_KEY="a key"
    )
    return contributor


def found(content, path):
    """What stands at a path; of lists, what stands there in any entry."""
    name, _, rest = path.partition(".")
    if isinstance(content, list):
        return [value for entry in content for value in found(entry, path)]
    if name not in content:
        return []
    return found(content[name], rest) if rest else [content[name]]


@pytest.mark.parametrize("field", EXPORTED)
def test_every_field_that_is_promised_is_there(member, field):
    assert found(member.api.get("/api/v1/me/export/").json(), EXPORTED[field]), field


def test_what_is_there_is_what_was_sent(member):
    export = member.api.get("/api/v1/me/export/").json()
    assert len(export["wears"]) == 4
    sent = [
        pair | {"elapsed_min": pair["elapsed_min"] // 5 * 5, "sensor_mark": None, "replicate": None}
        for pair in pairs(seed=7)
    ]
    child = next(one for one in export["wearers"] if one["age_class"] == "child")
    (childs,) = [wear for wear in export["wears"] if wear["wearer"] == child["id"]]
    assert childs["record"]["pairs"] == sent
    assert childs["record"]["site"] == "thigh.front"
    assert childs["n_pairs"] == 20
    assert {(one["action"], one["code"]) for one in export["decisions"]} == {("exclude", "stuck"), ("approve", "")}
    assert [one["scope"] for one in export["consents"]] == ["keep", "pool", "guardian"]
    assert (
        export["consents"][-1]["chain_hash"]
        == Consent.objects.get(pseudonym=member.account.pseudonym, number=3).chain_hash
    )
    assert (export["places"][0]["n_wears"], export["places"][0]["wearer"]) == (1, child["id"])
    assert len(export["answers_kept"]) == 1
    assert export["groups"] == [{"group": "harbour", "pseudonym": export["groups"][0]["pseudonym"], "role": "member"}]


def test_nothing_secret_and_nobody_else_is_in_it(member, give, moderator):
    other = give(moderator, seed=8)
    text = member.api.get("/api/v1/me/export/").content.decode()
    secrets = [member.token, member.password, *member.recovery_codes, member.account.password]
    others = [str(other.id), str(moderator.account.pk), moderator.sign_in_name]
    assert not [word for word in (*secrets, *others) if word in text]


def test_readings_come_as_a_table_with_the_caution_on_every_line(member):
    answer = member.api.get("/api/v1/me/export/readings.csv")
    lines = list(csv.DictReader(io.StringIO(answer.content.decode())))
    assert answer["Content-Type"].startswith("text/csv")
    assert len(lines) == 4 * 20
    assert {line["glucose_unit"] for line in lines} == {"mg/dL"}
    assert {line["caution"] for line in lines} == {" ".join(CAUTION_TEXT.split())}
    assert sorted(int(float(line["reference"])) for line in lines) == sorted(
        pair["reference"] for seed in (3, 4, 5, 7) for pair in pairs(seed=seed)
    )
    assert member.api.get("/api/v1/me/export/wears.csv").status_code == 404


def test_erased_readings_are_said_to_be_gone(member):
    WearPairs.objects.all().delete()
    export = member.api.get("/api/v1/me/export/").json()
    assert [wear["record"]["pairs"] for wear in export["wears"]] == [None] * 4
    assert member.api.get("/api/v1/me/export/readings.csv").content.decode().count("\r\n") == 1


def test_it_is_for_who_is_signed_in(api):
    assert api.get("/api/v1/me/export/").status_code == 401
    assert api.get("/api/v1/me/export/readings.csv").status_code == 401
