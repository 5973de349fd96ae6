"""Whose queue a wear lies in, who sees it there, and whether its readings are shown."""

import pytest

from server.core.errors import NotFound
from server.curation import selectors, services
from server.curation.models import Decision
from server.curation.queues import shows_pairs, to_decide, wear_before, wears_of
from server.groups.selectors import everyone
from server.groups.services import appoint_moderator, change_protocol, join_group
from server.wears import cutoff

pytestmark = pytest.mark.django_db


@pytest.fixture
def above(stranger):
    """Moderates everyone."""
    appoint_moderator(everyone(), account=stranger.account)
    return stranger


@pytest.fixture
def crossed(group, moderator):
    """The group, with rules that have the moderators of everyone look at its wears."""
    change_protocol(group, by=moderator.account, curated_by_everyone=True)
    return group


def ids(queue):
    return {wear.id for wear in to_decide(queue)}


def test_a_wear_lies_in_one_queue(give, contributor, moderator, group, member_of_another_group):
    meadow = member_of_another_group.account.memberships.get().group
    given = {group: give(contributor), everyone(): give(contributor, to=everyone(), seed=2)}
    alone = give(moderator, seed=3)  # of the only moderator of the group
    assert ids(group) == {given[group].id}
    assert ids(everyone()) == {given[everyone()].id, alone.id}
    assert ids(meadow) == set()


def test_a_moderators_wear_is_looked_at_by_a_colleague_where_there_is_one(give, moderator, new_member, group):
    wear = give(moderator)
    colleague = new_member()
    appoint_moderator(group, account=colleague.account)
    assert (ids(group), ids(everyone())) == ({wear.id}, set())
    assert selectors.queue_for_moderator(group, account=moderator.account) == []
    assert [line.id for line in selectors.queue_for_moderator(group, account=colleague.account)] == [wear.id]


def test_rules_can_hand_a_queue_to_the_moderators_of_everyone(give, contributor, moderator, crossed, above):
    wear = give(contributor)
    assert selectors.queue_for_moderator(crossed, account=moderator.account) == []
    for act in (
        lambda: selectors.wear_for_moderator(crossed, wear.id, account=moderator.account),
        lambda: services.approve_wear(crossed, wear.id, by=moderator.account),
        lambda: services.ask_owner(crossed, wear.id, question="site", by=moderator.account),
    ):
        with pytest.raises(NotFound):
            act()
    seen = selectors.wear_for_moderator(everyone(), wear.id, account=above.account)
    assert "harbour" not in str(seen)
    services.approve_wear(everyone(), wear.id, by=above.account)
    entry = Decision.objects.get()
    assert entry.group == crossed
    assert [one.number for one in selectors.record_of(crossed, account=moderator.account)] == [1]


def test_what_was_approved_from_above_is_left_out_from_above(give, contributor, crossed, above, new_member):
    wear = give(contributor)
    services.approve_wear(everyone(), wear.id, by=above.account)
    cutoff.mark_waiting_slot(slot=1)
    other = new_member()
    appoint_moderator(everyone(), account=other.account)
    assert services.exclude_wear(everyone(), wear.id, code="stuck", by=other.account).group == crossed


def test_what_a_groups_own_moderators_approved_is_none_of_everyones(give, contributor, group, moderator, above):
    wear = give(contributor)
    services.approve_wear(group, wear.id, by=moderator.account)
    cutoff.mark_waiting_slot(slot=1)
    with pytest.raises(NotFound):
        services.exclude_wear(everyone(), wear.id, code="stuck", by=above.account)


def test_a_wear_is_before_moderators_from_its_release_to_the_edition_date(give, contributor, group, moderator):
    waits = give(contributor, released=False)
    assert wears_of(group).filter(pk=waits.id).exists()
    assert (wear_before(group, waits.id), ids(group)) == (None, set())
    with pytest.raises(NotFound):
        services.exclude_wear(group, waits.id, code="stuck", by=moderator.account)
    seen = give(contributor, seed=2)
    services.approve_wear(group, seen.id, by=moderator.account)
    assert wear_before(group, seen.id) is not None
    cutoff.mark_waiting_slot(slot=1)
    assert wear_before(group, seen.id) is None


def test_readings_are_shown_to_no_moderator_of_a_small_group(
    give, contributor, group, moderator, above, new_member, monkeypatch
):
    from server.curation import queues

    wear = give(contributor)
    shown = lambda queue, member: shows_pairs(queue, wear, account=member.account)  # noqa: E731
    assert not shown(group, moderator)
    assert shown(everyone(), above)
    join_group(group, account=above.account)
    assert not shown(everyone(), above)
    monkeypatch.setattr(queues, "band_of", lambda _: "25_to_49")
    assert shown(group, moderator)
    change_protocol(group, by=moderator.account, room=True)
    assert not shown(group, moderator)
    assert shows_pairs(everyone(), give(contributor, to=everyone(), seed=2), account=above.account)
