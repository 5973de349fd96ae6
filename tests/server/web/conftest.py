from datetime import date

import pytest

from pooling.edition import assemble, canonical_bytes, sha256_hex
from tests.pooling.conftest import make_context, make_fit, make_outcomes


@pytest.fixture
def edition(db):
    """An edition of an invented public group, put where a publication puts it."""
    from server.editions.models import Edition, Slot
    from server.groups.models import Group

    group = Group.objects.create(
        slug="hill-walkers",
        name="Hill walkers",
        description="They walk.",
        public=True,
        feeds_everyone=False,
        wearers="adult",
        founded_on=date(2030, 1, 1),
    )
    slot = Slot.objects.create(number=7, cut_off=date(2026, 7, 1))
    content = canonical_bytes(assemble(make_fit(), make_context(), make_outcomes()))
    return Edition.objects.create(
        group=group, slot=slot, document=content, sha256=sha256_hex(content), published_month=date(2026, 7, 1)
    )


@pytest.fixture
def browser_of(client):
    """Signs the test client in as a member of the cast."""

    def signed_in(member):
        client.force_login(member.account)
        return client

    return signed_in
