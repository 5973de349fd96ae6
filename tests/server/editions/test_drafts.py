"""What moderators are shown of a draft, and nobody else."""

import json
from uuid import uuid4

import pytest

from server.core.errors import Forbidden, NotFound
from server.editions.drafts import draft_for_moderator, drafts_list
from server.editions.services import publish_draft, start_draft


def test_a_draft_shows_its_parts_and_only_what_would_be_published(sealed):
    draft = start_draft(sealed.group, by=sealed.moderator.account)
    view = draft_for_moderator(sealed.group, draft.pk, account=sealed.moderator.account)
    assert (view.state, view.number, view.document, view.overtaken) == ("fitting", 1, None, False)
    assert {part.state for part in view.parts} == {"due"}
    sealed.run_due_jobs()
    view = draft_for_moderator(sealed.group, draft.pk, account=sealed.moderator.account)
    assert {part.state for part in view.parts} == {"done"}
    edition = publish_draft(sealed.group, draft.pk, by=sealed.moderator.account)
    assert view.document == json.loads(bytes(edition.document))


def test_a_draft_says_when_it_is_overtaken(sealed):
    draft = sealed.draft()
    sealed.cut_off(2)
    assert drafts_list(sealed.group, account=sealed.moderator.account)[0].overtaken is True
    assert draft_for_moderator(sealed.group, draft.pk, account=sealed.moderator.account).overtaken is True


def test_drafts_are_for_moderators(sealed, stranger):
    draft = sealed.draft()
    for read in (
        lambda account: draft_for_moderator(sealed.group, draft.pk, account=account),
        lambda account: drafts_list(sealed.group, account=account),
    ):
        with pytest.raises(Forbidden):
            read(sealed.crowd[0].account)
        with pytest.raises(NotFound):
            read(stranger.account)
    with pytest.raises(NotFound):
        draft_for_moderator(sealed.group, uuid4(), account=sealed.moderator.account)
