"""Upload, giving, taking back and erasing, by their owners."""

import json
import logging
from datetime import date

import pytest
from django.apps import apps

from pooling import summary as summaries
from pooling.columns import unpack
from server.accounts.models import Holding
from server.accounts.selectors import wearer_of
from server.accounts.services import add_wearer, record_consent
from server.core import keys
from server.core.errors import Conflict, Invalid, NotFound, TooLarge
from server.groups.models import Group
from server.groups.selectors import everyone
from server.groups.services import found_group, leave_group
from server.wears import cutoff, services
from server.wears.intake import month_after
from server.wears.models import Wear, WearPairs, WearSummary
from server.wears.selectors import report_for_owner
from server.wears.transitions import State
from tests.server.records import A_CHILD, pairs, raw, record

pytestmark = pytest.mark.django_db

CANARY = 217.31


def n_rows():
    """How many rows each table of the project has."""
    return {
        model._meta.label: model._default_manager.count()
        for config in apps.get_app_configs()
        if config.name.startswith("server.")
        for model in config.get_models()
    }


def accept(member, body):
    return services.accept_upload(body, account=member.account, wearer=wearer_of(member.account, None))


def admitted(wear, *, end_bucket=24):
    cutoff.mark_waiting_slot(slot=1)
    cutoff.mark_admitted([wear.id], family="accuracy", end_bucket=end_bucket)
    cutoff.show_states()
    wear.refresh_from_db()
    return wear


# Upload


def test_an_upload_keeps_the_record_its_packed_pairs_its_summary_and_who_holds_it(contributor, catalogue):
    sent = record()
    result = accept(contributor, json.dumps(sent).encode())
    wear = Wear.objects.get()
    columns = unpack(bytes(wear.pairs.block))
    summary = summaries.from_bytes(bytes(wear.summary.payload))
    holding = Holding.objects.get(pk=wear.id)
    assert result.wear == wear
    assert wear.state == wear.shown_state == State.PRIVATE
    assert "pairs" not in wear.header
    assert (wear.header["site"], wear.header["worn_min"]) == ("thigh.front", 20_000)
    assert wear.header["plan"] == keys.mac("plan of a wear", wear.id.bytes + b"an-opaque-token").hex()
    assert list(columns.reference_hundredths) == [pair["reference"] * 100 for pair in sent["pairs"]]
    assert list(columns.sensor_hundredths) == [pair["sensor"] * 100 for pair in sent["pairs"]]
    assert summary.strata["all"].n_pairs == wear.summary.n_pairs == 20
    assert (holding.account, holding.wearer.relation) == (contributor.account, "self")


def test_dates_are_whole_months_and_readings_go_twelve_later(contributor, catalogue, clock):
    clock.set(date(2031, 12, 31))
    wear = accept(contributor, raw()).wear
    assert (wear.uploaded_month, wear.pairs.erase_on) == (date(2031, 12, 1), date(2032, 12, 1))


def report_of(member, uploaded):
    return report_for_owner(uploaded.wear.pk, account=member.account)


def test_the_report_says_what_the_wear_says(contributor, catalogue):
    report = report_of(contributor, accept(contributor, raw()))
    sent = record()["pairs"]
    by_hand = sum(abs(pair["sensor"] - pair["reference"]) / pair["reference"] for pair in sent) / len(sent) * 100
    assert report["n_pairs"] == 20
    assert report["mard_pct"] == pytest.approx(by_hand, abs=0.005)
    assert report["caution"]["text"]


def test_findings_are_kept_as_codes_alone(contributor, catalogue):
    wear = accept(contributor, raw(n_pairs=3)).wear
    wear.refresh_from_db()
    assert wear.findings == ["too_few_pairs"]


def test_a_wear_without_pairs_is_kept_too(contributor, catalogue):
    wear = accept(contributor, raw(n_pairs=0, end_reason="fell_off", worn_min=300)).wear
    assert wear.summary.n_pairs == 0


BAD = {
    "not json": (b"{", "#"),
    "not an object": (b"[]", "#"),
    "a word of its own": (raw(colour="red"), "#/colour"),
    "no site": (json.dumps({k: v for k, v in record().items() if k != "site"}).encode(), "#/site"),
    "a site that is a region": (raw(site="thigh"), "#/site"),
    "another format": (raw(format="wear-record/2"), "#/format"),
    "a pair after the end": (raw(worn_min=600), "#/pairs/1/elapsed_min"),
    "a model that is not listed": (raw(sensor_model="demo-z99"), "#/sensor_model"),
    "a model that is closed": (raw(sensor_model="demo-closed"), "#/sensor_model"),
    "a reading out of range": (raw(pairs=[{**pairs(1)[0], "sensor": 900}]), "#/pairs/0/sensor"),
    "a mark beside a number": (raw(pairs=[{**pairs(1)[0], "sensor_mark": "below"}]), "#/pairs/0/sensor_mark"),
}


@pytest.mark.parametrize(("body", "pointer"), BAD.values(), ids=list(BAD))
def test_a_bad_record_is_refused_with_its_place_and_nothing_is_kept(contributor, catalogue, body, pointer):
    before = n_rows()
    with pytest.raises(Invalid) as refusal:
        accept(contributor, body)
    assert pointer in [fault["pointer"] for fault in refusal.value.faults]
    assert all(fault["message"] for fault in refusal.value.faults)
    assert n_rows() == before


def test_every_fault_is_named_at_once(contributor, catalogue):
    with pytest.raises(Invalid) as refusal:
        accept(contributor, raw(site="nose", end_reason="bored", pairs=[{**pairs(1)[0], "prompt": "mood"}]))
    assert {fault["pointer"] for fault in refusal.value.faults} >= {"#/site", "#/end_reason", "#/pairs/0/prompt"}


def test_a_body_beyond_the_limit_is_refused_unread(contributor, catalogue):
    before = n_rows()
    with pytest.raises(TooLarge):
        accept(contributor, b" " * 1_000_001)
    assert n_rows() == before


def test_no_reading_of_a_refused_record_reaches_a_log_or_the_refusal(contributor, catalogue, caplog):
    body = raw(pairs=[{**pairs(1)[0], "reference": CANARY, "sensor": CANARY, "prompt": "mood"}], site="nose")
    with caplog.at_level(logging.DEBUG), pytest.raises(Invalid) as refusal:
        accept(contributor, body)
    said = [record.getMessage() + str(record.args) for record in caplog.records]
    said += [refusal.value.detail, str(refusal.value.faults)]
    assert not [line for line in said if "217.31" in line]


def test_without_the_switch_keep_nothing_is_kept(contributor, catalogue):
    record_consent(contributor.account, scope="keep", given=False, text_version=1)
    before = n_rows()
    with pytest.raises(Conflict):
        accept(contributor, raw())
    assert n_rows() == before


# The same wear again


def codes(report):
    return [finding["code"] for finding in report["findings"]]


def test_an_own_wear_uploaded_again_is_a_finding_to_its_owner_alone(contributor, stranger, catalogue):
    assert "own_duplicate" not in codes(first := report_of(contributor, accept(contributor, raw())))
    assert "own_duplicate" in codes(report_of(contributor, accept(contributor, raw())))
    assert report_of(stranger, accept(stranger, raw())) == first


# Giving


def test_a_given_wear_is_queued_and_its_owner_sees_that(upload, contributor, group):
    wear = services.give_to_group(upload(contributor).id, account=contributor.account, group=group)
    wear.refresh_from_db()
    assert (wear.state, wear.shown_state, wear.group) == (State.QUEUED, State.QUEUED, group)


def test_giving_again_to_the_same_group_changes_nothing(give, contributor, group):
    wear = give(contributor)
    services.give_to_group(wear.id, account=contributor.account, group=group)
    wear.refresh_from_db()
    assert (wear.previous_state, wear.state) == (State.PRIVATE, State.QUEUED)


def test_straight_to_everyone_needs_no_membership(upload, stranger):
    wear = services.give_to_group(upload(stranger).id, account=stranger.account, group=everyone())
    assert wear.group == everyone()


@pytest.mark.parametrize("name", ["member_of_another_group", "stranger"])
def test_only_members_give_to_a_group(request, upload, group, name):
    member = request.getfixturevalue(name)
    wear = upload(member)
    with pytest.raises(NotFound):
        services.give_to_group(wear.id, account=member.account, group=group)
    wear.refresh_from_db()
    assert wear.state == State.PRIVATE


@pytest.mark.parametrize("name", ["moderator", "member_of_another_group", "stranger"])
def test_nobody_moves_somebody_elses_wear(request, give, contributor, group, name):
    wear = give(contributor)
    account = request.getfixturevalue(name).account
    for act in (
        lambda: services.give_to_group(wear.id, account=account, group=group),
        lambda: services.take_back(wear.id, account=account),
        lambda: services.erase_wear(wear.id, account=account),
    ):
        with pytest.raises(NotFound):
            act()
    wear.refresh_from_db()
    assert wear.state == State.QUEUED


def test_a_waiting_wear_moves_to_another_group_and_belongs_to_one(approve, member_of_another_group, contributor):
    wear = approve(contributor)
    cutoff.mark_waiting_slot(slot=4)
    meadow = Group.objects.get(slug="meadow")
    from server.groups.services import join_group

    join_group(meadow, account=contributor.account)
    services.give_to_group(wear.id, account=contributor.account, group=meadow)
    wear.refresh_from_db()
    assert (wear.group, wear.state, wear.awaited.count()) == (meadow, State.QUEUED, 0)


def test_a_wear_on_a_child_does_not_go_into_a_group_of_adults(upload, contributor):
    child = add_wearer(contributor.account, **A_CHILD)
    adults = found_group(
        founder=contributor.account, slug="adults", name="Adults", feeds_everyone=False, wearers="adult"
    )
    wear = upload(contributor, wearer=child)
    with pytest.raises(Conflict):
        services.give_to_group(wear.id, account=contributor.account, group=adults)
    services.give_to_group(upload(contributor, seed=2).id, account=contributor.account, group=adults)


def test_a_group_takes_the_models_that_its_rules_name(upload, moderator, contributor, group):
    from server.groups.services import change_protocol

    change_protocol(group, by=moderator.account, accepted_models=["demo-b10"])
    with pytest.raises(Conflict):
        services.give_to_group(upload(contributor).id, account=contributor.account, group=group)
    other = upload(contributor, sensor_model="demo-b10", seed=2)
    services.give_to_group(other.id, account=contributor.account, group=group)


def test_without_the_switch_pool_nothing_is_given(upload, contributor, group):
    wear = upload(contributor)
    record_consent(contributor.account, scope="pool", given=False, text_version=1)
    with pytest.raises(Conflict):
        services.give_to_group(wear.id, account=contributor.account, group=group)


def test_an_admitted_wear_enters_no_group_again(approve, contributor, group):
    wear = admitted(approve(contributor))
    for target in (group, everyone()):
        with pytest.raises(Conflict):
            services.give_to_group(wear.id, account=contributor.account, group=target)


def test_a_wear_without_its_readings_enters_no_group_any_more(upload, give, contributor, group):
    kept, queued = upload(contributor), give(contributor, seed=2)
    services.erase_due_pairs(today=kept.pairs.erase_on)
    for wear, target in ((kept, group), (queued, everyone())):
        with pytest.raises(Conflict, match="erased on the date"):
            services.give_to_group(wear.id, account=contributor.account, group=target)
    assert dict(Wear.objects.values_list("id", "state")) == {kept.id: State.PRIVATE, queued.id: State.QUEUED}


# Taking back


@pytest.mark.parametrize("state", [State.QUEUED, State.ASKED, State.APPROVED, State.EXCLUDED])
def test_what_waits_is_private_again_and_keeps_its_readings(give, contributor, state):
    wear = give(contributor)
    if state != State.QUEUED:
        Wear.objects.filter(pk=wear.pk).update(previous_state=State.QUEUED, state=state)
    services.take_back(wear.id, account=contributor.account)
    wear.refresh_from_db()
    assert (wear.state, wear.shown_state, wear.group, wear.awaited.count()) == (State.PRIVATE, State.PRIVATE, None, 0)
    assert WearPairs.objects.filter(wear=wear).exists()


def test_taking_back_what_was_never_given_changes_nothing(upload, contributor):
    wear = upload(contributor)
    services.take_back(wear.id, account=contributor.account)
    wear.refresh_from_db()
    assert (wear.previous_state, wear.state) == ("", State.PRIVATE)


def test_what_was_counted_is_erased_at_once_with_readings_summary_and_holding(approve, contributor):
    wear, stays = approve(contributor), approve(contributor, seed=2)
    cutoff.mark_waiting_slot(slot=1)
    cutoff.mark_admitted([wear.id, stays.id], family="accuracy", end_bucket=24)
    services.take_back(wear.id, account=contributor.account)
    assert list(Wear.objects.all()) == [stays]
    assert [row.wear for row in WearPairs.objects.all()] == [stays]
    assert [row.wear for row in WearSummary.objects.all()] == [stays]
    assert [holding.wear_id for holding in Holding.objects.all()] == [stays.id]


def test_erasing_forgets_the_kept_answer_to_the_upload(contributor, catalogue):
    headers = {"HTTP_IDEMPOTENCY_KEY": "once"}
    answer = contributor.api.post("/api/v1/wears/", raw(), content_type="application/json", **headers)
    wear_id = Wear.objects.get().id
    assert answer.status_code == 201
    services.erase_wear(wear_id, account=contributor.account)
    assert {label: n for label, n in n_rows().items() if label.startswith("wears.") or "Idempotency" in label} == {
        "wears.Awaited": 0,
        "wears.Wear": 0,
        "wears.WearPairs": 0,
        "wears.WearSummary": 0,
        "core.IdempotencyKey": 0,
    }


@pytest.mark.parametrize("counted", [False, True])
def test_a_wear_can_be_erased_from_any_state(approve, contributor, counted):
    wear = approve(contributor)
    if counted:
        admitted(wear)
    services.erase_wear(wear.id, account=contributor.account)
    with pytest.raises(NotFound):
        services.erase_wear(wear.id, account=contributor.account)
    assert not Wear.objects.exists()


def test_readings_are_erased_on_their_date_and_the_summary_stays(approve, contributor):
    wear = approve(contributor)
    due = wear.pairs.erase_on
    assert services.erase_due_pairs(today=date(due.year - 1, 12, 31)) == 0
    assert services.erase_due_pairs(today=due) == 1
    wear.refresh_from_db()
    assert wear.summary.n_pairs == 20
    assert not WearPairs.objects.exists()


@pytest.mark.parametrize(
    ("month", "n_months", "later"),
    [
        (date(2031, 1, 1), 12, date(2032, 1, 1)),
        (date(2031, 12, 1), 1, date(2032, 1, 1)),
        (date(2031, 3, 1), 9, date(2031, 12, 1)),
    ],
)
def test_months_are_counted_whole(month, n_months, later):
    assert month_after(month, n_months) == later


def test_leaving_a_group_takes_back_what_waits_there_and_nothing_else(approve, give, contributor, group):
    waits, counted = approve(contributor), approve(contributor, seed=2)
    elsewhere = give(contributor, to=everyone(), seed=3)
    cutoff.mark_waiting_slot(slot=1)
    cutoff.mark_admitted([counted.id], family="accuracy", end_bucket=24)
    leave_group(group, account=contributor.account)
    states = dict(Wear.objects.values_list("id", "state"))
    assert states == {waits.id: State.PRIVATE, counted.id: State.ADMITTED, elsewhere.id: State.QUEUED}
