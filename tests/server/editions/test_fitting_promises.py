"""The same sealed sums give the same bytes while all around them changes; what is summed outlives a change of rules."""

import json

import numpy as np

from pooling.edition.assembly import note_nothing
from pooling.hierarchy import fittable
from pooling.hierarchy.rules import FAMILY_OF
from pooling.simulate import single_wear
from server.accounts.models import Holding, PlaceLabel
from server.accounts.services import add_wearer, close_account
from server.editions import fitting
from server.editions.models import DraftState, Place, RecordKind, SealedRecord, SpentMarks
from server.editions.services import discard_draft, start_draft
from server.groups.services import appoint_moderator, change_protocol
from server.wears.models import Wear, WearPairs, WearSummary
from server.wears.services import take_back
from server.wears.transitions import State
from tests.server.editions.conftest import THIGH
from tests.server.editions.test_fitting import parts_of
from tests.server.records import A_CHILD


def built(village, run_due_jobs):
    """The bytes of a fresh draft of the village's edition."""
    draft = start_draft(village.group, by=village.moderator)
    run_due_jobs()
    draft.refresh_from_db()
    assert draft.state == DraftState.READY, draft.reasons
    content = bytes(draft.document)
    discard_draft(village.group, draft.pk, by=village.moderator)
    return content


def sums():
    """Everything that was sealed, row by row; who is behind a place is not part of it."""
    rows = SealedRecord.objects.order_by("id"), Place.objects.order_by("label"), SpentMarks.objects.order_by("id")
    return [list(found.values_list()) for found in rows]


def test_waiting_leaving_closing_and_forgetting_move_no_byte_and_no_sum(village, run_due_jobs):
    village.bring_wears(1)
    village.cut_off(1)
    first, sealed = built(village, run_due_jobs), sums()
    assert len(json.loads(first)["tables"]["sites"]) > 0

    village.bring_wear(single_wear(np.random.default_rng(1), "calf", "demo-a14", absurd=True), person="harbour-0002")
    assert Wear.objects.filter(state=State.APPROVED).count() > 1
    assert (built(village, run_due_jobs), sums()) == (first, sealed)

    owner = village.loaded.accounts["harbour-0001"]
    admitted = Wear.objects.filter(state=State.ADMITTED).values_list("pk", flat=True)
    own = list(Holding.objects.filter(account=owner, wear_id__in=list(admitted)).values_list("wear_id", flat=True))
    assert own
    for wear_id in own:
        take_back(wear_id, account=owner)
    assert (built(village, run_due_jobs), sums()) == (first, sealed)

    close_account(owner)
    assert (built(village, run_due_jobs), sums()) == (first, sealed)

    for model in (WearPairs, WearSummary, Wear, Holding, PlaceLabel):
        model.objects.all().delete()
    assert (built(village, run_due_jobs), sums()) == (first, sealed)


def test_parts_may_be_fitted_in_any_order(sealed):
    found, channels = set(), fittable(fitting.sealed_records_for(sealed.group))
    assert {FAMILY_OF[channel] for channel in channels} >= {"accuracy", "survival"}
    for order in (channels, tuple(reversed(channels))):
        draft = start_draft(sealed.group, by=sealed.moderator.account)
        for channel in order:
            fitting.run_part(draft.parts.get(channel=channel).pk)
        sealed.run_due_jobs()
        draft.refresh_from_db()
        found.add((bytes(draft.document), *parts_of(draft)))
        discard_draft(sealed.group, draft.pk, by=sealed.moderator.account)
    assert len(found) == 1


def test_where_nothing_can_be_shown_one_fixed_sentence_stands(sealed):
    """Nothing summed, and sums that may not be shown, read the same."""
    empty = json.loads(bytes(sealed.draft(sealed.found("lone", feeds_everyone=False)).document))
    assert empty["notes"] == [note_nothing("2031-04-01")]
    raise_k(sealed, 7)
    withheld = json.loads(bytes(sealed.draft().document))
    assert withheld["notes"] == empty["notes"]
    assert withheld["about"] == empty["about"]
    assert withheld["audit"] == empty["audit"]
    assert not any(withheld["tables"].values())


def raise_k(pool, k):
    appoint_moderator(pool.everyone, account=pool.moderator.account)
    for group in (pool.everyone, pool.group):
        change_protocol(group, by=pool.moderator.account, k=k)


def test_a_group_that_comes_to_ask_for_more_people_keeps_what_was_summed_before(sealed):
    """k never falls, so what a first k let in stands beside what a later one asks for."""
    raise_k(sealed, 7)
    sealed.wears(sealed.members(8), THIGH)
    sealed.cut_off(2)
    draft = sealed.draft()
    assert draft.state == DraftState.READY, draft.reasons
    document = json.loads(bytes(draft.document))
    assert document["rules"]["k"] == 7
    assert [row["site"] for row in document["tables"]["sites"]] == [THIGH]


def test_the_auditor_holds_each_sum_to_the_k_it_was_sealed_under(sealed):
    raise_k(sealed, 7)
    sealed.wears(sealed.members(7), THIGH)
    sealed.cut_off(2)
    block = SealedRecord.objects.get(kind=RecordKind.BLOCK, family="accuracy", k=7)
    block.places.first().delete()
    draft = sealed.draft()
    assert draft.state == DraftState.REFUSED
    assert "1 sum (block) speaks of fewer than 7 people" in draft.reasons


def test_the_auditor_counts_two_bodies_of_one_account_as_one_person(pool):
    """So that a sum over six bodies of four accounts is refused while the accounts are known to be four."""
    members = pool.members(5)
    pool.wears(members, THIGH)
    for member in members[:2]:
        pool.wear(member, wearer=add_wearer(member.account, **A_CHILD))
    pool.cut_off(1)
    block = SealedRecord.objects.get(kind=RecordKind.BLOCK, family="accuracy")
    assert block.places.count() == 7
    block.places.filter(pk__in=labels_of(members[4])).delete()
    draft = pool.draft()
    assert draft.state == DraftState.REFUSED
    assert "1 sum (block) speaks of fewer than 5 people" in draft.reasons


def labels_of(member):
    return list(PlaceLabel.objects.filter(account=member.account).values_list("label", flat=True))
