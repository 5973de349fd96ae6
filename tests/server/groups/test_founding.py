"""What a founder expects decides whether the group is a room, and leaves no trace."""

import pytest

from server.accounts import throttles
from server.core.errors import Conflict, Invalid, TooMany
from server.groups.founding import found_as_expected
from server.groups.models import Group
from server.groups.selectors import protocol_of

pytestmark = pytest.mark.django_db


def found(founder, **changes):
    details = {"slug": "pier", "name": "Pier", "feeds_everyone": True, "wearers": "adult", **changes}
    return found_as_expected(founder=founder.account, **details)


def expected(members):
    return {"members": members, "wears_a_month": 2, "sites": 6, "months": 2}


@pytest.mark.parametrize(
    ("changes", "room"),
    [
        ({"expected": expected(24)}, True),
        ({"expected": expected(25)}, False),
        ({"expected": expected(24), "protocol": {"room": False}}, False),
        ({"expected": expected(24), "feeds_everyone": False}, False),
        ({"protocol": {"room": True}}, True),
        ({}, False),
    ],
)
def test_a_group_of_few_is_a_room_unless_its_founder_decides_otherwise(stranger, changes, room):
    founded = found(stranger, **changes)
    assert protocol_of(founded.group).room is room
    assert ("This one is a room" in founded.small_group) is room
    assert (founded.odds is None) is ("expected" not in changes)


def test_the_odds_are_those_of_the_calculator(stranger):
    assert found(stranger, expected=expected(4)).odds.any_site_row_pct == 0  # k is 5


def test_numbers_that_make_no_sense_found_nothing(stranger):
    with pytest.raises(Invalid):
        found(stranger, expected=expected(0))
    assert not Group.objects.filter(slug="pier").exists()


def test_foundings_are_few_an_hour(stranger, group, monkeypatch):
    """A taken short name says that there is such a group, also a hidden one."""
    monkeypatch.setitem(throttles.MOST_TRIES_PER_HOUR, "group", 2)
    details = {"name": "Brook", "wearers": "adult", "feeds_everyone": False}
    found_as_expected(founder=stranger.account, slug="brook", **details)
    with pytest.raises(Conflict):
        found_as_expected(founder=stranger.account, slug=group.slug, **details)
    with pytest.raises(TooMany):
        found_as_expected(founder=stranger.account, slug="creek", **details)
