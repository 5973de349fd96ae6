"""Editions without a pool behind them, for tests of what becomes of an edition once it is there."""

import hashlib
from datetime import date

from pooling.edition import assemble, canonical_bytes
from pooling.edition.certificate import certificate_bytes
from tests.pooling.conftest import make_context, make_fit, make_outcomes, make_parts


def printed(group, number=1, **changed):
    """An edition of the group, of an invented fit, published for a slot of its own."""
    from server.editions.calendar import cut_off_of
    from server.editions.models import Edition, Slot
    from server.editions.signing import signed

    slot, _ = Slot.objects.get_or_create(
        number=number, defaults={"cut_off": cut_off_of(number, first=date(2031, 3, 1))}
    )
    context = make_context(group_slug=group.slug, group_name=group.name, number=number, **changed)
    content = canonical_bytes(assemble(make_fit(), context, make_outcomes(), make_parts()))
    certificate = certificate_bytes(content, auditor_version=1)
    return Edition.objects.create(
        group=group,
        slot=slot,
        document=content,
        certificate=certificate,
        signature=signed(content, certificate),
        sha256=hashlib.sha256(content).hexdigest(),
        published_month=slot.cut_off.replace(day=1),
    )
