"""What anybody may read is read in one query; what was taken back and what is not public is not among it."""

import pytest

from server.editions.public import newest_public_edition, public_groups_with_newest, public_sha256
from server.groups.models import Group
from tests.server.editions.printed import printed

pytestmark = pytest.mark.django_db


def test_the_newest_edition_of_a_public_group_is_read_at_once(pool, django_assert_num_queries):
    assert newest_public_edition(pool.group.slug) is None
    edition = printed(pool.group)
    with django_assert_num_queries(1):
        found = newest_public_edition(pool.group.slug)
    assert (found.number, found.sha256, found.content) == (edition.number, edition.sha256, bytes(edition.document))
    with django_assert_num_queries(1):
        groups = {group.slug: group.newest_cut_off for group in public_groups_with_newest()}
    assert groups[pool.group.slug] == edition.slot.cut_off
    assert public_sha256(pool.group.slug, "latest") == public_sha256(pool.group.slug, edition.number) == edition.sha256


def test_a_group_that_is_not_public_is_not_among_it(pool):
    printed(pool.group)
    Group.objects.filter(pk=pool.group.pk).update(public=False)
    assert newest_public_edition(pool.group.slug) is None
    assert public_sha256(pool.group.slug, "latest") is None
    assert pool.group.slug not in {group.slug for group in public_groups_with_newest()}
