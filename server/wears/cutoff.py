"""What a cut-off does to wears: who begins to wait, what is counted, and what owners then see."""

from collections.abc import Iterable
from uuid import UUID, uuid4

from django.db import transaction
from django.db.models import F, Q

from server.accounts.selectors import owners_of, unwilling
from server.accounts.services import hold_accounts
from server.core.chunks import IDS_A_QUERY, chunks, pieces
from server.core.errors import Conflict
from server.core.locks import hold_rows
from server.core.outcomes import Family
from server.wears import services
from server.wears.models import Awaited, Wear, WearPairs
from server.wears.signals import states_shown
from server.wears.transitions import State


@transaction.atomic
def mark_waiting_slot(*, slot: int) -> int:
    """Begin a cut-off: newly approved wears wait from this slot on.

    What waits for somebody who has turned the pool switch off since goes back to private first, and readings are gone
    whose wears may be in sums that end now. Returns how many wears began to wait. Until the cut-off is committed nobody
    else takes a step with any of them.
    """
    held = _hold()
    WearPairs.objects.filter(wear__first_end_bucket__lte=slot).delete()
    _take_back_without_consent(held)
    approved = Wear.objects.filter(state=State.APPROVED, awaited__isnull=True).only("id", "header")
    new = {wear.id: families_of(wear) for wear in approved.iterator(IDS_A_QUERY) if wear.id in held}
    rows = sorted((uuid4(), wear_id, family) for wear_id, families in new.items() for family in families)
    for some in pieces(rows, of=IDS_A_QUERY):
        Awaited.objects.bulk_create(
            [Awaited(id=key, wear_id=wear_id, family=family, since_slot=slot) for key, wear_id, family in some]
        )
    return len(new)


def _hold() -> frozenset[UUID]:
    """Hold what the cut-off may change, and whose it is.

    Who is taking a wear back comes before it, and the wear is not seen any more; who begins later waits for its end,
    and finds the wear counted. An approval that comes meanwhile is one of the next cut-off.
    """
    steps = Q(state=State.APPROVED) | Q(awaited__isnull=False) | ~Q(shown_state=F("state"))
    ids = list(Wear.objects.filter(steps).distinct().values_list("id", flat=True))
    hold_accounts(owner["account_id"] for owner in owners_of(ids).values())
    return frozenset(wear.pk for wear in hold_rows(Wear.objects.only("pk"), ids))


def families_of(wear: Wear) -> list[Family]:
    """What a wear can be counted for: what was not asked or not told is no outcome."""
    told = {**(wear.header.get("ratings") or {}), Family.SKIN: wear.header.get("skin")}
    return [family for family in Family if family in (Family.ACCURACY, Family.SURVIVAL) or told.get(family) is not None]


def _take_back_without_consent(held: Iterable[UUID]) -> None:
    """Make private what waits for somebody who no longer agrees, or decides no more; of what counts, count no more."""
    for chunk in chunks(unwilling(held)):
        for wear in Wear.objects.filter(id__in=chunk, state=State.APPROVED).order_by("id"):
            services.back_to_private(wear)
        Awaited.objects.filter(wear_id__in=chunk).delete()


@transaction.atomic
def mark_admitted(wear_ids: Iterable[UUID], *, family: str, end_bucket: int) -> None:
    """Record that waiting wears have been counted in a family of outcomes; of when it was, only shared ends are kept.

    The first family that counts a wear makes it an admitted one; the readings go with its sums, which end first.
    """
    for chunk in chunks(wear_ids):
        n_counted, _ = Awaited.objects.filter(wear_id__in=chunk, family=family).delete()
        if n_counted != len(chunk):
            raise Conflict("A wear that does not wait was to be admitted; nothing was.")
        Wear.objects.filter(id__in=chunk, state=State.APPROVED).update(
            previous_state=State.APPROVED,
            state=State.ADMITTED,
            first_end_bucket=end_bucket,
            end_bucket=end_bucket,
        )
        Wear.objects.filter(id__in=chunk).update(end_bucket=end_bucket)


def show_states() -> None:
    """End a cut-off: from now on owners see the states as they are at this date.

    A step that somebody is just about to take is one of the next date, and not waited for.
    """
    stale = Wear.objects.filter(~Q(shown_state=F("state")))
    for chunk in chunks(stale.select_for_update(skip_locked=True).values_list("id", flat=True)):
        stale.filter(id__in=chunk).update(shown_state=F("state"))
    states_shown.send(sender=Wear)
