import pytest

from server.core.errors import Forbidden, NotFound
from server.editions.permissions import Permission, require


@pytest.mark.parametrize("permission", Permission)
def test_moderators_may_members_may_not_and_to_others_there_is_no_group(
    permission, group, moderator, contributor, member_of_another_group
):
    require(permission, group=group, account=moderator.account)
    with pytest.raises(Forbidden):
        require(permission, group=group, account=contributor.account)
    for outsider in (member_of_another_group.account, None):
        with pytest.raises(NotFound):
            require(permission, group=group, account=outsider)
