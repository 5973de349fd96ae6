import pytest

from server.groups.permissions import GRANTED, Permission, may


@pytest.mark.parametrize("permission", list(Permission))
def test_what_changes_or_reveals_something_is_for_moderators(permission):
    assert may("moderator", permission)
    assert not may("member", permission)
    assert not may(None, permission)


def test_each_role_is_in_the_table():
    assert {str(role) for role in GRANTED} == {"member", "moderator"}
