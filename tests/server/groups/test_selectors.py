from dataclasses import replace

import pytest

from server.core.errors import Conflict, Forbidden, NotFound
from server.groups import selectors
from server.groups.models import Membership, Protocol
from server.groups.permissions import Permission
from server.groups.services import change_protocol, found_group, join_group

pytestmark = pytest.mark.django_db


@pytest.fixture
def cellar(moderator):
    """A group that is not public and does not feed everyone."""
    return found_group(
        founder=moderator.account, slug="cellar", name="Cellar", public=False, feeds_everyone=False, wearers="adult"
    )


CAST = ("moderator", "contributor", "member_of_another_group", "stranger")


@pytest.mark.parametrize("name", [*CAST, None])
def test_a_public_group_is_open_to_every_reader(request, group, name):
    account = request.getfixturevalue(name).account if name else None
    assert selectors.group_for_reader("harbour", account) == group


@pytest.mark.parametrize("name", ["member_of_another_group", "stranger", None])
def test_a_hidden_group_and_one_that_never_was_are_answered_alike(request, cellar, name):
    account = request.getfixturevalue(name).account if name else None
    answers = []
    for slug in ("cellar", "no-such-group"):
        for read in (selectors.group_for_reader, selectors.group_for_member):
            with pytest.raises(NotFound) as answer:
                read(slug, account)
            answers.append(answer.value.detail)
    assert len(set(answers)) == 1


def test_members_read_a_hidden_group(cellar, moderator):
    assert selectors.group_for_reader("cellar", moderator.account) == cellar
    assert selectors.group_for_member("cellar", moderator.account) == cellar


@pytest.mark.parametrize(
    ("name", "answer"),
    [("moderator", None), ("contributor", Forbidden), ("member_of_another_group", NotFound), ("stranger", NotFound)],
)
@pytest.mark.parametrize("permission", list(Permission))
def test_permissions_by_cast(request, group, name, answer, permission):
    account = request.getfixturevalue(name).account
    if answer is None:
        assert selectors.group_with_permission("harbour", account, permission) == group
        return
    with pytest.raises(answer):
        selectors.group_with_permission("harbour", account, permission)


def test_public_groups_are_listed_by_their_slug_and_hidden_ones_to_their_members_alone(
    group, cellar, member_of_another_group, moderator
):
    assert [one.slug for one in selectors.public_groups()] == ["everyone", "harbour", "meadow"]
    assert [one.slug for one in selectors.groups_of(moderator.account)] == ["cellar", "harbour"]


def test_members_are_seen_under_their_pseudonyms(group, moderator, contributor):
    members = selectors.members_of(group, account=moderator.account)
    ids = {str(one.account_id) for one in Membership.objects.all()}
    assert len(members) == 2
    assert not {str(one.id) for one in members} & ids


def test_k_by_scope_follows_the_newest_versions(group, cellar, moderator):
    change_protocol(cellar, by=moderator.account, k=9)
    change_protocol(cellar, by=moderator.account, k=12)
    assert selectors.k_by_scope() == {"everyone": 5, str(group.id): 5, str(cellar.id): 12}
    assert selectors.highest_feeder_k() == 5
    assert selectors.protocol_of(cellar).version == 3


def test_no_feeder_no_highest_k():
    assert selectors.highest_feeder_k() is None


def test_a_feeder_follows_the_stricter_rule_of_its_own_and_everyones(group, moderator):
    everyone = selectors.everyone()
    Protocol.objects.create(
        group=everyone, version=2, fewest_pairs=10, widest_gap_min=12, highest_rate_mg_dl_min=2.0, first_day="leave_out"
    )
    change_protocol(group, by=moderator.account, fewest_pairs=9, widest_gap_min=14, highest_rate_mg_dl_min=1.0)
    in_force = selectors.rules_in_force(group)
    rules = in_force.rules
    assert (rules.version, rules.widest_gap_min) == (2, 12)
    assert (rules.highest_rate_mg_dl_min, rules.first_day) == (1.0, "leave_out")
    assert (in_force.fewest_pairs, in_force.versions) == (10, (2, 2))


def test_what_either_of_two_protocols_does_not_take_is_not_taken(group, cellar):
    described = {"sensor_model": "demo-a14", "site": "calf", "meter_class": "unknown"}
    assert selectors.rules_in_force(group).not_taken(described) is None
    Protocol.objects.create(group=selectors.everyone(), version=2, accepted_sites=["chest"])
    assert selectors.rules_in_force(group).not_taken(described) == "site"
    assert selectors.rules_in_force(cellar).not_taken(described) is None
    with pytest.raises(Conflict, match="do not take this site"):
        selectors.rules_in_force(group).require_taken(described)


def test_the_longer_of_two_waits_holds(group):
    Protocol.objects.create(group=selectors.everyone(), version=2, editions_before_site_given_up=6)
    Protocol.objects.create(group=group, version=2, editions_before_model_given_up=3)
    in_force = selectors.rules_in_force(group)
    assert (in_force.editions_before_model_given_up, in_force.editions_before_site_given_up) == (3, 6)


def test_a_group_that_does_not_feed_everyone_keeps_its_own_rules(cellar):
    Protocol.objects.create(group=selectors.everyone(), version=2, widest_gap_min=5)
    in_force = selectors.rules_in_force(cellar)
    assert (in_force.rules.widest_gap_min, in_force.everyone) == (15, None)


def test_the_rules_of_earlier_versions_stay_readable(group, moderator):
    then = selectors.rules_in_force(group)
    change_protocol(group, by=moderator.account, fewest_pairs=20)
    Protocol.objects.create(group=selectors.everyone(), version=2, first_day="leave_out")
    assert selectors.rules_of_versions(group, then.versions) == then
    assert selectors.rules_of_versions(group, (2, 2)) == selectors.rules_in_force(group) != then


def test_everyone_follows_its_own_rules_alone():
    everyone = selectors.everyone()
    in_force = selectors.rules_in_force(everyone)
    assert in_force.protocol == in_force.everyone == selectors.protocol_of(everyone)


def test_wears_can_be_given_where_one_belongs_and_to_everyone(group, cellar, contributor, stranger):
    assert selectors.group_for_giving("harbour", contributor.account) == group
    assert selectors.group_for_giving("everyone", stranger.account) == selectors.everyone()
    with pytest.raises(Conflict, match="Join it first"):
        selectors.group_for_giving("harbour", stranger.account)
    for slug in ("cellar", "no-such-group"):
        with pytest.raises(NotFound):
            selectors.group_for_giving(slug, stranger.account)


def test_how_many_belong_is_told_in_bands(group, new_member):
    assert selectors.band_of(group) == "under_25"
    for _ in range(25):
        Membership.objects.create(group=group, account=new_member().account)
    assert selectors.band_of(group) == "25_to_99"


def test_a_room_shows_the_figures_of_everyone(group, moderator):
    assert selectors.figures_of(group) == "harbour"
    change_protocol(group, by=moderator.account, room=True)
    assert selectors.figures_of(group) == "everyone"
    assert "This one is a room" in selectors.small_group_warning(group)


def test_members_stand_in_a_keyed_order(group, moderator, new_member, settings):
    for _ in range(7):
        join_group(group, account=new_member().account)
    orders = []
    for secret in ("5e" * 32, "11" * 32):
        settings.KEYS = replace(settings.KEYS, mac_keys=(secret,))
        orders.append([member.id for member in selectors.members_of(group, account=moderator.account)])
    assert orders[0] != orders[1]
    assert set(orders[0]) == set(orders[1]) == set(group.memberships.values_list("id", flat=True))
    assert sorted(orders[0]) not in orders


def test_founders_are_told_what_a_small_group_can_expect(group, cellar):
    assert "everyone instead" in selectors.small_group_warning(group)
    assert "perhaps for ever" in selectors.small_group_warning(cellar)
