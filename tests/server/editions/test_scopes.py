import pytest

from server.editions.scopes import scopes_read_by
from server.groups.selectors import everyone

pytestmark = pytest.mark.django_db


def test_a_group_reads_its_own_sums_and_everyone_those_of_groups_that_feed_it(pool):
    lone = pool.found("lone", feeds_everyone=False)
    assert scopes_read_by(pool.group) == {pool.group.scope}
    assert scopes_read_by(lone) == {lone.scope}
    assert scopes_read_by(everyone()) == {"everyone", pool.group.scope}
