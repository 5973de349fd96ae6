"""A draft is a function of sealed sums, rules and code: same sums, same bytes, whatever became of the wears."""

import json
from uuid import uuid4

import numpy as np
import pytest

from pooling.errors import NoConvergence
from pooling.hierarchy import CHANNELS, fittable
from server.accounts.models import Holding
from server.core.models import Job
from server.core.services import run_job
from server.editions import fitting
from server.editions.models import Draft, DraftState, FitPart, PartState, Place, RecordKind, SealedRecord
from server.editions.services import start_draft
from server.groups.selectors import everyone
from server.groups.services import appoint_moderator
from server.wears.models import Wear, WearPairs, WearSummary
from server.wears.services import take_back
from tests.server.editions.conftest import ARM, FLANK, THIGH
from tests.server.editions.test_admission import absurd_pairs


def content(pool, group=None):
    """The bytes of a fresh draft and of its parts, before any rounding; it is discarded, so that another can start."""
    draft = pool.draft(group)
    assert draft.state == DraftState.READY, draft.reasons
    found = bytes(draft.document), *parts_of(draft)
    pool.discard(draft)
    return found


def parts_of(draft):
    return [bytes(payload) for payload in draft.parts.order_by("channel").values_list("payload", flat=True)]


def test_the_same_sums_give_the_same_bytes_under_other_ids_in_another_order(sealed):
    sealed.wears(sealed.members(10), THIGH)
    sealed.cut_off(2)
    first, read = content(sealed), fitting.sealed_records_for(sealed.group)
    assert SealedRecord.objects.filter(kind=RecordKind.BLOCK, family="accuracy", place=THIGH).count() == 2
    rows = list(SealedRecord.objects.order_by("-id"))
    Draft.objects.all().delete()  # what was shown names the sums it rested on, and these get other names
    Place.objects.all().delete()
    SealedRecord.objects.all().delete()
    for row in rows:
        row.pk = uuid4()
    SealedRecord.objects.bulk_create(rows)
    for row in rows:
        if row.kind != RecordKind.OVERLAP:
            Place.objects.bulk_create(Place(record=row) for _ in range(row.payload["n_people"]))
    assert fitting.sealed_records_for(sealed.group) == read
    assert content(sealed) == first


def test_sums_that_differ_by_one_unit_give_other_bytes(sealed):
    """So that equal bytes elsewhere mean something: the document does follow the sums."""
    first = content(sealed)
    for block in SealedRecord.objects.filter(kind=RecordKind.BLOCK, family="accuracy"):
        for channel in CHANNELS:
            block.payload["sums"][channel][2] += 2**36
        block.save()
    assert content(sealed)[0] != first[0]


def test_the_document_says_which_edition_it_is(sealed):
    document = json.loads(content(sealed)[0])
    assert (document["group"]["slug"], document["number"], document["cut_off"]) == ("harbour", 1, "2031-03-01")
    assert document["next_cut_off"] == "2031-04-01"
    assert document["rules"]["k"] == 5
    assert document["audit"]["passed"] is True
    assert {row["site"] for row in document["tables"]["sites"]} == {THIGH, FLANK}
    assert document["caution"]["text"]


@pytest.mark.parametrize("channel", ["direct", "on_rated"])
def test_a_part_that_dies_is_run_again_and_the_bytes_are_the_same(sealed, monkeypatch, channel):
    first = content(sealed)
    draft = start_draft(sealed.group, by=sealed.moderator.account)
    monkeypatch.setattr(fitting, "fit_channel", dying_at(channel, fitting.fit_channel))
    for job in Job.objects.filter(state=Job.State.DUE):
        run_job(job.pk)
    assert dict(draft.parts.values_list("channel", "state")) == {
        **dict.fromkeys(fittable(fitting.sealed_records_for(sealed.group)), PartState.DONE),
        channel: PartState.DUE,
    }
    sealed.run_due_jobs()
    draft.refresh_from_db()
    assert (bytes(draft.document), *parts_of(draft)) == first


def dying_at(channel, fit_channel):
    """Fit as usual, but the first time this channel comes up, die after the work and before its result is kept."""
    died = []

    def fit(records, name, rules, rng):
        result = fit_channel(records, name, rules, rng)
        if name == channel and not died:
            died.append(name)
            raise MemoryError
        return result

    return fit


def test_every_channel_of_every_family_that_was_summed_is_a_part_of_its_own(sealed):
    held = {(block.family, name) for block in fitting.sealed_records_for(sealed.group).blocks for name in block.sums}
    assert {family for family, _ in held} >= {"accuracy", "survival"}
    draft = start_draft(sealed.group, by=sealed.moderator.account)
    assert sorted(draft.parts.values_list("channel", flat=True)) == sorted(name for _, name in held)


def test_a_part_run_twice_is_kept_once(sealed):
    draft = start_draft(sealed.group, by=sealed.moderator.account)
    part = draft.parts.get(channel="location")
    fitting.run_part(part.pk)
    kept = bytes(draft.parts.get(pk=part.pk).payload)
    fitting.run_part(part.pk)
    assert bytes(draft.parts.get(pk=part.pk).payload) == kept
    fitting.run_part(uuid4())


def test_no_wear_is_needed(sealed):
    first = content(sealed)
    for model in (WearPairs, WearSummary, Wear, Holding):
        model.objects.all().delete()
    assert content(sealed) == first


def test_taking_back_what_was_counted_changes_no_byte(sealed):
    first = content(sealed)
    member = sealed.crowd[0]
    for wear_id in Holding.objects.filter(account=member.account).values_list("wear_id", flat=True):
        take_back(wear_id, account=member.account)
    assert content(sealed) == first


def test_closing_an_account_changes_no_byte(sealed):
    from server.accounts.services import close_account

    first = content(sealed)
    close_account(sealed.crowd[0].account)
    assert content(sealed) == first


def test_what_waits_changes_no_byte_whatever_it_says(sealed):
    first = content(sealed)
    for member in sealed.crowd:
        sealed.wear(member, site=ARM, pairs=absurd_pairs())
    assert content(sealed) == first


def test_a_group_reads_its_own_sums_and_everyone_those_of_groups_that_feed_it(sealed):
    lone = sealed.found("lone", feeds_everyone=False)
    assert len(fitting.sealed_records_for(sealed.group).of_family("accuracy").blocks) == 2
    assert fitting.sealed_records_for(everyone()) == fitting.sealed_records_for(sealed.group)
    assert fitting.sealed_records_for(lone).blocks == ()


def test_a_group_does_not_read_what_it_shares_with_everyone(sealed):
    """People counted in the group and, elsewhere on the body, in everyone: that overlap is everyone's to read."""
    sealed.wears(sealed.crowd[:3], ARM)
    sealed.wears_in(sealed.found("moor"), 3, ARM)
    sealed.cut_off(2)
    shared = {"everyone", sealed.group.scope}
    assert shared in [{pair.cell.scope, pair.other.scope} for pair in fitting.sealed_records_for(everyone()).overlaps]
    own = fitting.sealed_records_for(sealed.group)
    assert {scope for pair in own.overlaps for scope in (pair.cell.scope, pair.other.scope)} == {sealed.group.scope}


def test_sums_that_have_ended_are_read_no_more(sealed):
    for slot in range(2, 25):
        sealed.cut_off(slot)
    assert fitting.sealed_records_for(sealed.group).blocks == ()


def test_where_nothing_is_sealed_the_document_has_no_row(sealed):
    document = json.loads(content(sealed, sealed.found("lone", feeds_everyone=False))[0])
    assert {name: rows for name, rows in document["tables"].items() if rows} == {}
    assert document["caution"]["text"]


def test_random_numbers_belong_to_the_part_and_the_edition(sealed):
    draft = Draft.objects.create(group=sealed.group, slot_id=1)
    # printf 'harbour|1|1|location' | sha256sum
    seed = 0xC973682C92FB74CE4345BFB1A37504B08EE3F51F0AB2FC3C7ED803972F1EEC98
    assert fitting.seed_for(draft, "location").random() == np.random.default_rng(seed).random()
    assert fitting.seed_for(draft, "direct").random() != np.random.default_rng(seed).random()


def test_a_draft_stops_once_a_later_cut_off_has_passed(sealed):
    draft = start_draft(sealed.group, by=sealed.moderator.account)
    sealed.cut_off(2)
    sealed.run_due_jobs()
    draft.refresh_from_db()
    assert (draft.state, draft.reasons) == (DraftState.REFUSED, [fitting.OVERTAKEN])
    assert not FitPart.objects.exists()


def test_a_cut_off_between_the_parts_and_their_assembly_stops_the_draft_too(sealed):
    draft = start_draft(sealed.group, by=sealed.moderator.account)
    for part in draft.parts.all():
        fitting.run_part(part.pk)
    sealed.cut_off(2)
    sealed.run_due_jobs()
    draft.refresh_from_db()
    assert (draft.state, draft.reasons) == (DraftState.REFUSED, [fitting.OVERTAKEN])


def test_a_fit_without_an_answer_refuses_the_draft_in_words(sealed, monkeypatch):
    def fails(*_args):
        raise NoConvergence("the chains are worth 3 draws; 100 are demanded")

    monkeypatch.setattr(fitting, "fit_channel", fails)
    draft = sealed.draft()
    assert draft.state == DraftState.REFUSED
    assert draft.reasons == ["The figures could not be worked out: the chains are worth 3 draws; 100 are demanded"]


def test_the_auditor_refuses_a_draft_over_sums_of_too_few_people_in_any_group(sealed):
    block = SealedRecord.objects.filter(kind=RecordKind.BLOCK).first()
    Place.objects.filter(pk__in=list(block.places.values_list("pk", flat=True)[:2])).delete()
    draft = sealed.draft(everyone_moderated_by(sealed.moderator))
    assert draft.state == DraftState.REFUSED
    assert draft.document is None
    assert "1 sum (block) speaks of fewer than 5 people" in draft.reasons


def everyone_moderated_by(moderator):
    appoint_moderator(everyone(), account=moderator.account)
    return everyone()
