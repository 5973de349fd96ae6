import pytest

from server.core.errors import Conflict, Forbidden, Invalid, NotFound
from server.core.models import SensorModel
from server.groups import selectors, services
from server.groups.invitations import make_invitation
from server.groups.models import Group, Invitation, Membership, Protocol
from server.groups.signals import member_left

pytestmark = pytest.mark.django_db


def found(founder, slug="cellar", **changes):
    details = {"name": "Cellar", "public": False, "feeds_everyone": False, "wearers": "adult", **changes}
    return services.found_group(founder=founder.account, slug=slug, **details)


def role(group, member):
    return selectors.role_of(member.account, group)


def test_a_founder_moderates_the_group_under_the_first_version_of_its_rules(stranger):
    group = found(stranger, protocol={"k": 7, "fewest_pairs": 12})
    protocol = selectors.protocol_of(group)
    assert role(group, stranger) == "moderator"
    assert (protocol.version, protocol.k, protocol.fewest_pairs, protocol.widest_gap_min) == (1, 7, 12, 15)


@pytest.mark.parametrize(
    ("changes", "pointer"),
    [
        ({"slug": "not a slug"}, "#/slug"),
        ({"slug": "Everyone"}, "#/slug"),
        ({"name": ""}, "#/name"),
        ({"description": "x" * 501}, "#/description"),
        ({"wearers": "cats"}, "#/wearers"),
        ({"protocol": {"k": 4}}, "#/protocol/k"),
        ({"protocol": {"fewest_pairs": 7}}, "#/protocol/fewest_pairs"),
        ({"protocol": {"widest_gap_min": 16}}, "#/protocol/widest_gap_min"),
        ({"protocol": {"highest_rate_mg_dl_min": 0.0}}, "#/protocol/highest_rate_mg_dl_min"),
        ({"protocol": {"first_day": "maybe"}}, "#/protocol/first_day"),
        ({"protocol": {"accepted_models": ["demo-z99"]}}, "#/protocol/accepted_models"),
        ({"protocol": {"accepted_models": []}}, "#/protocol/accepted_models"),
        ({"protocol": {"accepted_sites": ["nose"]}}, "#/protocol/accepted_sites"),
        ({"protocol": {"accepted_meter_classes": ["good"]}}, "#/protocol/accepted_meter_classes"),
        ({"protocol": {"editions_before_model_given_up": 1}}, "#/protocol/editions_before_model_given_up"),
        ({"protocol": {"editions_before_site_given_up": 3}}, "#/protocol/editions_before_site_given_up"),
        ({"protocol": {"editions_before_site_given_up": 13}}, "#/protocol/editions_before_site_given_up"),
        ({"protocol": {"editions_before_model_given_up": 5}}, "#/protocol/editions_before_site_given_up"),
        ({"protocol": {"months_between_editions": 4}}, "#/protocol/months_between_editions"),
        ({"protocol": {"room": True}}, "#/protocol/room"),
        ({"protocol": {"colour": "red"}}, "#/protocol/colour"),
        ({"feeds_everyone": True, "protocol": {"k": 6}}, "#/protocol/k"),
    ],
)
def test_bad_details_are_named_and_nothing_is_founded(stranger, catalogue, changes, pointer):
    before = (Group.objects.count(), Protocol.objects.count(), Membership.objects.count())
    with pytest.raises(Invalid) as refusal:
        found(stranger, **changes)
    assert pointer in [fault["pointer"] for fault in refusal.value.faults]
    assert (Group.objects.count(), Protocol.objects.count(), Membership.objects.count()) == before


def test_moderators_describe_their_group_and_change_nothing_else(group, moderator, contributor):
    described = services.describe_group(group, by=moderator.account, name="Harbour walk")
    assert (described.name, described.description) == ("Harbour walk", "An invented group.")
    for details in ({"name": ""}, {"feeds_everyone": False}, {"slug": "pier"}):
        with pytest.raises(Invalid) as refusal:
            services.describe_group(group, by=moderator.account, **details)
        assert refusal.value.faults[0]["pointer"] == f"#/{next(iter(details))}"
    with pytest.raises(Forbidden):
        services.describe_group(group, by=contributor.account, name="Mine")
    group.refresh_from_db()
    assert (group.name, group.feeds_everyone) == ("Harbour walk", True)


@pytest.mark.parametrize("slug", ["harbour", "everyone"])
def test_a_taken_slug_is_a_conflict(group, stranger, slug):
    with pytest.raises(Conflict):
        found(stranger, slug=slug)


def test_joining_a_public_group_twice_changes_nothing(group, stranger):
    first = services.join_by_slug("harbour", account=stranger.account)
    assert services.join_group(group, account=stranger.account) == first
    assert role(group, stranger) == "member"


def test_a_moderator_who_joins_again_stays_a_moderator(group, moderator):
    services.join_group(group, account=moderator.account)
    assert role(group, moderator) == "moderator"


def test_everyone_is_not_joined(stranger):
    with pytest.raises(Conflict):
        services.join_by_slug("everyone", account=stranger.account)


def test_a_hidden_group_is_joined_with_a_code_once(moderator, stranger, new_member):
    cellar = found(moderator)
    code = make_invitation(cellar, by=moderator.account).code
    assert code not in str(list(Invitation.objects.values()))
    for wrong in (None, "", "wrong"):
        with pytest.raises(NotFound):
            services.join_by_slug("cellar", account=stranger.account, invitation=wrong)
    services.join_by_slug("cellar", account=stranger.account, invitation=code)
    assert role(cellar, stranger) == "member"
    with pytest.raises(NotFound):
        services.join_by_slug("cellar", account=new_member().account, invitation=code)


def test_a_code_opens_the_group_it_was_made_for_and_no_other(moderator, stranger):
    found(moderator)
    attic = found(moderator, slug="attic")
    code = make_invitation(attic, by=moderator.account).code
    with pytest.raises(NotFound):
        services.join_by_slug("cellar", account=stranger.account, invitation=code)
    services.join_by_slug("attic", account=stranger.account, invitation=code)


def test_joining_a_group_that_never_was_is_answered_like_a_hidden_one(moderator, stranger):
    found(moderator)
    details = []
    for slug in ("cellar", "no-such-group"):
        with pytest.raises(NotFound) as answer:
            services.join_by_slug(slug, account=stranger.account)
        details.append(answer.value.detail)
    assert details[0] == details[1]


def test_leaving_tells_those_above_and_ends_the_membership(group, contributor):
    heard = []

    def listen(*, group, account, **_):
        heard.append((group, account))

    member_left.connect(listen)
    try:
        services.leave_group(group, account=contributor.account)
    finally:
        member_left.disconnect(listen)
    assert heard == [(group, contributor.account)]
    assert role(group, contributor) is None


def test_when_a_listener_fails_nobody_has_left(group, contributor):
    def fail(**_):
        raise RuntimeError

    member_left.connect(fail)
    try:
        with pytest.raises(RuntimeError):
            services.leave_group(group, account=contributor.account)
    finally:
        member_left.disconnect(fail)
    assert role(group, contributor) == "member"


def test_a_stranger_cannot_leave(group, stranger):
    with pytest.raises(NotFound):
        services.leave_group(group, account=stranger.account)


def test_the_last_moderator_stays_while_there_are_members(group, moderator, contributor):
    own = Membership.objects.get(group=group, account=moderator.account)
    with pytest.raises(Conflict):
        services.leave_group(group, account=moderator.account)
    with pytest.raises(Conflict):
        services.set_role(group, member=own.id, role="member", by=moderator.account)
    other = Membership.objects.get(group=group, account=contributor.account)
    services.set_role(group, member=other.id, role="moderator", by=moderator.account)
    services.leave_group(group, account=moderator.account)
    assert role(group, contributor) == "moderator"


def test_the_only_member_of_all_may_leave(member_of_another_group):
    meadow = Group.objects.get(slug="meadow")
    services.leave_group(meadow, account=member_of_another_group.account)
    assert not Membership.objects.filter(group=meadow).exists()


def test_roles_are_set_by_moderators_within_their_own_group(group, moderator, contributor, member_of_another_group):
    own = Membership.objects.get(group=group, account=contributor.account)
    elsewhere = Membership.objects.get(account=member_of_another_group.account)
    with pytest.raises(Forbidden):
        services.set_role(group, member=own.id, role="moderator", by=contributor.account)
    with pytest.raises(NotFound):
        services.set_role(group, member=own.id, role="moderator", by=member_of_another_group.account)
    with pytest.raises(NotFound):
        services.set_role(group, member=elsewhere.id, role="member", by=moderator.account)
    with pytest.raises(Invalid):
        services.set_role(group, member=own.id, role="owner", by=moderator.account)


def test_the_operator_appoints_a_moderator_of_everyone(stranger):
    services.appoint_moderator(selectors.everyone(), account=stranger.account)
    services.appoint_moderator(selectors.everyone(), account=stranger.account)
    assert role(selectors.everyone(), stranger) == "moderator"


def test_a_changed_protocol_is_a_new_version_that_keeps_what_was_not_named(group, moderator, catalogue):
    services.change_protocol(group, by=moderator.account, fewest_pairs=10)
    protocol = services.change_protocol(group, by=moderator.account, accepted_models=["demo-a14"])
    assert (protocol.version, protocol.fewest_pairs, protocol.accepted_models) == (3, 10, ["demo-a14"])
    assert list(Protocol.objects.filter(group=group).order_by("version").values_list("version", flat=True)) == [1, 2, 3]


@pytest.mark.parametrize("rule", [{"room": True}, {"months_between_editions": 2}])
def test_everyone_is_no_room_and_keeps_the_calendar_of_the_service(stranger, rule):
    services.appoint_moderator(selectors.everyone(), account=stranger.account)
    with pytest.raises(Invalid) as refusal:
        services.change_protocol(selectors.everyone(), by=stranger.account, **rule)
    assert [fault["pointer"] for fault in refusal.value.faults] == [f"#/{next(iter(rule))}"]


def test_a_model_that_is_closed_since_may_stay_in_the_rules(group, moderator, catalogue):
    services.change_protocol(group, by=moderator.account, accepted_models=["demo-a14"])
    SensorModel.objects.filter(slug="demo-a14").update(open=False)
    assert services.change_protocol(group, by=moderator.account, fewest_pairs=9).fewest_pairs == 9


def test_the_rules_may_ask_for_a_second_moderator(group, moderator):
    assert selectors.protocol_of(group).two_person_publishing is False
    services.change_protocol(group, by=moderator.account, two_person_publishing=True)
    assert selectors.protocol_of(group).two_person_publishing is True


def test_a_protocol_sent_again_unchanged_is_no_new_version(group, moderator):
    assert services.change_protocol(group, by=moderator.account, k=5, fewest_pairs=8).version == 1


def test_k_is_raised_and_never_lowered(moderator):
    cellar = found(moderator)
    services.change_protocol(cellar, by=moderator.account, k=8)
    with pytest.raises(Invalid) as refusal:
        services.change_protocol(cellar, by=moderator.account, k=7)
    assert refusal.value.faults[0]["pointer"] == "#/k"
    assert selectors.protocol_of(cellar).k == 8


def test_a_feeder_asks_for_no_more_people_than_everyone(group, moderator, stranger):
    everyone = selectors.everyone()
    with pytest.raises(Invalid):
        services.change_protocol(group, by=moderator.account, k=6)
    services.appoint_moderator(everyone, account=stranger.account)
    services.change_protocol(everyone, by=stranger.account, k=10)
    assert services.change_protocol(group, by=moderator.account, k=10).k == 10
    with pytest.raises(Invalid):
        services.change_protocol(group, by=moderator.account, k=11)


@pytest.mark.parametrize(
    ("name", "refusal"), [("contributor", Forbidden), ("member_of_another_group", NotFound), ("stranger", NotFound)]
)
def test_rules_and_invitations_are_the_moderators(request, group, name, refusal):
    account = request.getfixturevalue(name).account
    with pytest.raises(refusal):
        services.change_protocol(group, by=account, k=5)
    with pytest.raises(refusal):
        make_invitation(group, by=account)


@pytest.mark.parametrize("details", [{"name": "one\ntwo"}, {"name": "Everyone"}, {"description": "\u202e"}])
def test_no_group_is_founded_or_described_with_hidden_characters(group, moderator, stranger, details):
    with pytest.raises(Invalid):
        services.describe_group(group, by=moderator.account, **details)
    with pytest.raises(Invalid):
        found(stranger, "brook", **{"name": "Brook", **details})
