import pytest

from server.core.errors import Forbidden, NotFound
from server.curation.permissions import require_curator, require_not_own

pytestmark = pytest.mark.django_db


def test_moderators_of_the_group_alone_curate(group, moderator, contributor, member_of_another_group, stranger):
    require_curator(group, account=moderator.account)
    with pytest.raises(Forbidden):
        require_curator(group, account=contributor.account)
    for outside in (member_of_another_group, stranger):
        with pytest.raises(NotFound):
            require_curator(group, account=outside.account)


def test_nobody_curates_a_wear_of_their_own(give, moderator, contributor):
    wear = give(moderator)
    with pytest.raises(NotFound):
        require_not_own(wear.id, account=moderator.account)
    require_not_own(wear.id, account=contributor.account)
