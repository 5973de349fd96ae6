import pytest

from server.core.errors import Forbidden, NotFound
from server.curation import selectors
from server.curation.services import approve_wear, ask_owner, exclude_wear
from server.wears.models import Awaited, Wear
from tests.server.records import pairs

pytestmark = pytest.mark.django_db


def test_the_queue_holds_what_waits_for_a_decision_without_the_moderators_own(give, contributor, group, moderator):
    given = {give(contributor, seed=seed).id for seed in range(4)}
    give(moderator, seed=9)
    queue = selectors.queue_for_moderator(group, account=moderator.account)
    assert {wear.id for wear in queue} == given
    approve_wear(group, queue[0].id, by=moderator.account)
    assert len(selectors.queue_for_moderator(group, account=moderator.account)) == 3


def test_what_needs_a_look_most_comes_first(give, contributor, group, moderator):
    stuck = give(contributor, pairs=[one | {"sensor": 120} for one in pairs()])
    clean = [give(contributor, seed=seed) for seed in (2, 3)]
    Wear.objects.filter(pk=clean[1].pk).update(copied=True)
    queue = selectors.queue_for_moderator(group, account=moderator.account)
    assert [line.id for line in queue] == [stuck.id, clean[1].id, clean[0].id]
    assert [line.points for line in queue] == sorted((line.points for line in queue), reverse=True)
    assert [line.is_clean for line in queue] == [False, False, True]


def test_what_was_decided_lately_can_be_found_again_until_an_edition_date(
    give, contributor, group, moderator, django_assert_num_queries
):
    approved, left_out, asked, counted, told, _ = (give(contributor, seed=seed) for seed in range(6))
    own = give(moderator, seed=9)
    for wear in (approved, counted):
        approve_wear(group, wear.id, by=moderator.account)
    for wear in (left_out, told):
        exclude_wear(group, wear.id, code="copied", by=moderator.account)
    ask_owner(group, asked.id, question="site", by=moderator.account)
    Awaited.objects.create(wear=counted, family="accuracy", since_slot=1)
    Wear.objects.filter(pk=told.pk).update(shown_state="excluded")
    Wear.objects.filter(pk=own.pk).update(previous_state="queued", state="approved")
    with django_assert_num_queries(3):  # whatever their number: who asks, what is theirs, what was decided
        decided = selectors.decided_for_moderator(group, account=moderator.account)
    assert {line.id: line.state for line in decided} == {
        approved.id: "approved",
        left_out.id: "excluded",
        asked.id: "asked",
    }


def test_the_record_is_read_a_page_at_a_time(give, contributor, group, moderator, monkeypatch):
    monkeypatch.setattr(selectors, "RECORD_PAGE", 2)
    for seed in range(3):
        exclude_wear(group, give(contributor, seed=seed).id, code="copied", by=moderator.account)
    pages = [selectors.record_of(group, account=moderator.account, after=after) for after in (0, 2, 3)]
    assert [[entry.number for entry in page] for page in pages] == [[1, 2], [3], []]


def test_the_order_of_the_queue_tells_nothing_about_arrival(give, contributor, group, moderator):
    arrived = [give(contributor, seed=seed).id for seed in range(8)]
    queue = [wear.id for wear in selectors.queue_for_moderator(group, account=moderator.account)]
    assert queue not in (arrived, arrived[::-1])
    assert queue == [wear.id for wear in selectors.queue_for_moderator(group, account=moderator.account)]


def test_a_moderator_sees_a_wear_without_its_owner_and_without_minutes(give, contributor, group, moderator):
    wear = give(contributor)
    seen = selectors.wear_for_moderator(group, wear.id, account=moderator.account)
    assert seen.n_pairs == sum(seen.n_pairs_by_day.values()) == 20
    assert seen.worn_days == 20_000 // 1440
    told = repr(seen)
    assert str(contributor.account.id) not in told
    assert contributor.sign_in_name not in told
    assert "left" not in told


def test_a_wear_of_another_group_is_not_in_this_one(give, contributor, group, member_of_another_group):
    wear = give(contributor)
    meadow = member_of_another_group.account.memberships.get().group
    with pytest.raises(NotFound):
        selectors.wear_for_moderator(meadow, wear.id, account=member_of_another_group.account)


def test_the_record_is_read_from_its_first_entry_by_moderators_alone(give, contributor, group, moderator):
    for seed in range(3):
        exclude_wear(group, give(contributor, seed=seed).id, code="copied", by=moderator.account)
    assert [entry.number for entry in selectors.record_of(group, account=moderator.account)] == [1, 2, 3]
    with pytest.raises(Forbidden):
        selectors.record_of(group, account=contributor.account)
