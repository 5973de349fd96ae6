"""A member takes wears back while a draft is published: neither waits for the other's outcome, and no byte differs."""

from functools import partial

import pytest

from server.editions.models import Edition
from server.editions.services import publish_draft
from server.wears.models import Wear
from server.wears.services import erase_wear
from tests.server.editions.conftest import FLANK, THIGH
from tests.server.editions.test_admission_beside import beside

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.mark.parametrize("publication_first", [True, False])
def test_publication_beside_taking_back(pool, publication_first):
    people = pool.members(6)
    wears = pool.wears(people, THIGH, FLANK)
    pool.cut_off(1)
    draft = pool.draft()
    content, certificate = bytes(draft.document), bytes(draft.certificate)
    publish = partial(publish_draft, pool.group, draft.pk, by=pool.moderator.account)
    take_back = partial(erase_wear, wears[0].pk, account=people[0].account)
    beside(*((publish, take_back) if publication_first else (take_back, publish)))
    edition = Edition.objects.get()
    assert (bytes(edition.document), bytes(edition.certificate)) == (content, certificate)
    assert not Wear.objects.filter(pk=wears[0].pk).exists()


def test_of_two_publications_at_once_one_is_told_no(pool):
    from server.core.errors import Conflict

    pool.wears(pool.members(6), THIGH, FLANK)
    pool.cut_off(1)
    draft = pool.draft()
    told = []

    def publish():
        try:
            publish_draft(pool.group, draft.pk, by=pool.moderator.account)
        except Conflict as error:
            told.append(error.detail)

    beside(publish, publish)
    assert Edition.objects.count() == 1
    assert told == ["Only a draft that is ready can be published; this one is published."]
