"""The own estimate by a group's newest edition, and by published studies before there is one."""

import pytest

from pooling.own import OwnWear
from server.core.errors import Invalid, NotFound
from server.editions.expecting import expectation_in
from server.editions.models import Edition, Slot
from server.groups.models import Group
from tests.pooling.own.documents import document

pytestmark = pytest.mark.django_db
OWN = [OwnWear("thigh.front", "demo-a14", 40, 0.02, 0.4)]


@pytest.fixture
def told(edition):
    """A later edition with a whole model block."""
    from datetime import date

    from pooling.edition import canonical_bytes, sha256_hex

    content = canonical_bytes(document())
    slot = Slot.objects.create(number=8, cut_off=date(2026, 8, 1))
    return Edition.objects.create(
        group=edition.group,
        slot=slot,
        document=content,
        sha256=sha256_hex(content),
        published_month=date(2026, 8, 1),
    )


def test_the_newest_edition_speaks(told):
    found = expectation_in("hill-walkers", None, OWN, site="thigh.front")
    assert (found.edition, found.expectation.basis, found.expectation.n_own_wears) == (8, "edition", 1)


def test_before_an_edition_with_spreads_published_studies_speak(edition, group):
    for slug in ("hill-walkers", "harbour"):  # one whose edition has no whole model block, one without an edition
        found = expectation_in(slug, None, OWN, site="thigh.front")
        assert (found.edition, found.expectation.basis) == (None, "starter")
        assert found.expectation.sources


def test_a_group_that_is_not_open_and_one_that_is_none_look_alike(told, stranger):
    Group.objects.filter(slug="hill-walkers").update(public=False)
    said = set()
    for slug in ("hill-walkers", "nobody"):
        with pytest.raises(NotFound) as refused:
            expectation_in(slug, stranger.account, OWN, site="thigh.front")
        said.add(refused.value.detail)
    assert len(said) == 1


@pytest.mark.parametrize("site", ["", "elbow", "thigh"])
def test_a_site_that_is_none_is_refused_with_those_there_are(told, site):
    with pytest.raises(Invalid, match=r"thigh\.front"):
        expectation_in("hill-walkers", None, OWN, site=site)
