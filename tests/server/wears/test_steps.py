from uuid import uuid4

import pytest

from server.core.errors import Conflict, NotFound
from server.wears import steps
from server.wears.models import WearPairs
from server.wears.transitions import State

pytestmark = pytest.mark.django_db


def test_a_wear_is_its_owners_and_its_groups_alone(give, contributor, moderator, member_of_another_group, group):
    wear = give(contributor)
    assert steps.own(wear.id, contributor.account)[1].wear_id == wear.id
    assert steps.given_to(wear.id, group).id == wear.id == steps.locked(wear.id).id
    meadow = member_of_another_group.account.memberships.get().group
    for refused in (
        lambda: steps.own(wear.id, moderator.account),
        lambda: steps.given_to(wear.id, meadow),
        lambda: steps.given_to(uuid4(), group),
        lambda: steps.locked(uuid4()),
    ):
        with pytest.raises(NotFound):
            refused()


def test_a_step_is_one_of_the_table_and_shown_when_its_owner_took_it(give, contributor):
    wear = give(contributor)
    steps.step(wear, State.EXCLUDED)
    wear.refresh_from_db()
    assert (wear.previous_state, wear.state, wear.shown_state) == ("queued", "excluded", "queued")
    with pytest.raises(Conflict, match="excluded cannot become approved"):
        steps.step(wear, State.APPROVED)
    steps.step(wear, State.QUEUED, shown=True)
    wear.refresh_from_db()
    assert wear.shown_state == "queued"


def test_readings_are_there_until_they_are_erased(upload, contributor):
    wear = upload(contributor)
    assert steps.has_readings(wear)
    WearPairs.objects.filter(wear=wear).delete()
    assert not steps.has_readings(wear)
