"""Publication where the rules ask for two people, by the operator, and beside members who take wears back."""

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from pooling.edition.signature import check_signature
from server.core.errors import Conflict, Forbidden
from server.curation.record import chain_is_whole
from server.curation.selectors import record_of
from server.editions.models import Draft, Edition
from server.editions.retracting import retract_edition
from server.editions.services import publish_draft, start_due_drafts
from server.wears.services import erase_wear
from tests.server.editions.conftest import FIRST, FLANK, THIGH


def test_one_proposes_and_another_one_confirms(sealed, second_moderator, two_people):
    draft = sealed.draft()
    content = bytes(draft.document)
    assert publish_draft(sealed.group, draft.pk, by=sealed.moderator.account) is None
    assert not Edition.objects.exists()
    with pytest.raises(Conflict, match="Another moderator of the group has to confirm"):
        publish_draft(sealed.group, draft.pk, by=sealed.moderator.account)
    edition = publish_draft(sealed.group, draft.pk, by=second_moderator.account)
    assert bytes(edition.document) == content
    draft.refresh_from_db()
    assert draft.proposer_mark == ""


def test_a_member_cannot_be_the_second_person(sealed, two_people):
    draft = sealed.draft()
    publish_draft(sealed.group, draft.pk, by=sealed.moderator.account)
    with pytest.raises(Forbidden):
        publish_draft(sealed.group, draft.pk, by=sealed.crowd[0].account)


def test_a_proposal_goes_with_its_draft(sealed, second_moderator, two_people):
    draft = sealed.draft()
    publish_draft(sealed.group, draft.pk, by=sealed.moderator.account)
    sealed.discard(draft)
    again = sealed.draft()
    assert publish_draft(sealed.group, again.pk, by=second_moderator.account) is None
    assert publish_draft(sealed.group, again.pk, by=sealed.moderator.account).number == 1


def test_the_operator_publishes_for_everyone_and_for_nobody_else(sealed, capsys):
    with pytest.raises(CommandError, match="no draft of everyone's edition"):
        call_command("publish")
    start_due_drafts(FIRST)
    sealed.run_due_jobs()
    call_command("publish")
    edition = Edition.objects.get()
    assert edition.group == sealed.everyone
    assert edition.sha256 in capsys.readouterr().out
    assert Draft.objects.get(group=sealed.group).state == "ready"


def test_an_edition_is_signed_as_it_is_published(sealed, signing_key):
    edition = publish_draft(sealed.group, sealed.draft().pk, by=sealed.moderator.account)
    content, certificate = bytes(edition.document), bytes(edition.certificate)
    assert check_signature(edition.signature, content, certificate, public_key=signing_key) == signing_key


def test_a_key_that_cannot_be_used_stops_the_publication_and_nothing_is_lost(sealed, signing_key, settings):
    draft = sealed.draft()
    settings.SIGNING_KEY_FILE.write_bytes(b"no key")
    with pytest.raises(Conflict, match="tell the operator"):
        publish_draft(sealed.group, draft.pk, by=sealed.moderator.account)
    draft.refresh_from_db()
    assert (draft.state, Edition.objects.count()) == ("ready", 0)


def test_what_is_taken_back_between_draft_and_publication_changes_no_byte(pool, signing_key):
    people = pool.members(6)
    wears = pool.wears(people, THIGH, FLANK)
    pool.cut_off(1)
    draft = pool.draft()
    before = bytes(draft.document), bytes(draft.certificate)
    for wear, member in zip(wears[:6], people, strict=True):
        erase_wear(wear.pk, account=member.account)
    edition = publish_draft(pool.group, draft.pk, by=pool.moderator.account)
    assert (bytes(edition.document), bytes(edition.certificate)) == before
    Edition.objects.filter(pk=edition.pk)._raw_delete(using="default")
    Draft.objects.all().delete()
    again = pool.draft()
    assert (bytes(again.document), bytes(again.certificate)) == before, "nor does a draft made after it"


def test_what_becomes_of_figures_stands_in_the_record(sealed, second_moderator, two_people):
    draft = sealed.draft()
    publish_draft(sealed.group, draft.pk, by=sealed.moderator.account)
    publish_draft(sealed.group, draft.pk, by=second_moderator.account)
    retract_edition(sealed.group, 1, reason="privacy", by=None)
    told = [entry for entry in record_of(sealed.group, account=sealed.moderator.account) if entry.figures]
    assert [(entry.action, entry.code, entry.figures) for entry in told] == [
        ("propose", "", 1),
        ("publish", "", 1),
        ("retract", "privacy", 1),
    ]
    assert len({entry.moderator_mark for entry in told}) == 3
    assert told[-1].moderator_mark == "operator"
    assert chain_is_whole(sealed.group)
