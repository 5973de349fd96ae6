"""What the database itself refuses."""

from datetime import date

import pytest
from django.db import IntegrityError, transaction

from server.editions.models import Draft, DraftState, Edition, FitPart, PartState, SealedRecord, Slot


@pytest.fixture
def slot(db):
    return Slot.objects.create(number=3, cut_off=date(2031, 5, 1))


@pytest.fixture
def edition(slot, group):
    return Edition.objects.create(
        group=group, slot=slot, document=b"{}", sha256="a" * 64, published_month=date(2031, 5, 1)
    )


def test_what_an_edition_belongs_to_cannot_go_away_under_it(edition, group, slot):
    from django.db.models import ProtectedError

    for owner in (slot, group):
        with pytest.raises(ProtectedError):
            owner.delete()


@pytest.mark.parametrize(
    ("state", "document"),
    [("ready", None), ("fitting", b"{}"), ("refused", b"{}"), ("published", b"{}"), ("almost", None)],
)
def test_a_draft_has_a_document_exactly_while_it_is_ready(slot, group, state, document):
    with pytest.raises(IntegrityError), transaction.atomic():
        Draft.objects.create(group=group, slot=slot, state=state, document=document)


def test_a_part_has_a_result_exactly_when_it_is_done(slot, group):
    draft = Draft.objects.create(group=group, slot=slot)
    for state, payload in ((PartState.DONE, None), (PartState.DUE, b"x")):
        with pytest.raises(IntegrityError), transaction.atomic():
            FitPart.objects.create(draft=draft, channel="location", state=state, payload=payload)


def test_a_draft_has_each_part_once(slot, group):
    draft = Draft.objects.create(group=group, slot=slot)
    FitPart.objects.create(draft=draft, channel="location")
    with pytest.raises(IntegrityError), transaction.atomic():
        FitPart.objects.create(draft=draft, channel="location")


def test_ended_drafts_make_room_for_another_and_live_ones_do_not(slot, group):
    for state in (DraftState.DISCARDED, DraftState.REFUSED, DraftState.PUBLISHED):
        Draft.objects.create(group=group, slot=slot, state=state)
    with pytest.raises(IntegrityError), transaction.atomic():
        Draft.objects.create(group=group, slot=slot)


def test_only_known_kinds_of_sums_are_stored(db):
    with pytest.raises(IntegrityError), transaction.atomic():
        SealedRecord.objects.create(kind="guess", scope="everyone", end_bucket=24, seal_version=1, k=5)


def test_large_integers_come_back_exactly(db):
    """Sums are integers beyond what a double holds; the database must not round them."""
    payload = {"sums": [2**80 + 1, -(2**63) - 1]}
    row = SealedRecord.objects.create(
        kind="block", scope="everyone", end_bucket=24, seal_version=1, k=5, payload=payload
    )
    row.refresh_from_db()
    assert row.payload == payload


def test_rows_print_what_they_are_and_no_more(edition, group, slot):
    draft = Draft.objects.create(group=group, slot=slot)
    assert str(slot) == "slot 3"
    assert str(FitPart(draft=draft, channel="direct")) == f"direct of {draft.pk}"
    assert str(SealedRecord(kind="block", scope="everyone", place="calf")) == "block everyone|calf|*"
