"""Notices of the operator: on every page and in every answer to a sign-in while they stand, and on a page of their own.

Nobody's address is known here, so whoever has to be told is told when they come by.
"""

from collections.abc import Sequence
from uuid import UUID

from server.core import clock
from server.core.errors import Invalid, NotFound
from server.core.models import Notice

LONGEST = 4000


def post_notice(text: str) -> Notice:
    text = text.strip()
    if not 0 < len(text) <= LONGEST:
        raise Invalid(f"A notice has between 1 and {LONGEST:,} characters.")
    return Notice.objects.create(text=text, posted_on=clock.today())


def withdraw_notice(notice_id: UUID) -> Notice:
    """Take a notice off the pages; that it was posted, and what it said, stays on the page of notices."""
    notice = Notice.objects.filter(pk=notice_id, withdrawn_on__isnull=True).first()
    if notice is None:
        raise NotFound("No such notice stands.")
    notice.withdrawn_on = clock.today()
    notice.save(update_fields=["withdrawn_on"])
    return notice


def standing_notices() -> Sequence[Notice]:
    return list(Notice.objects.filter(withdrawn_on__isnull=True).order_by("-posted_on", "id"))


def all_notices() -> Sequence[Notice]:
    """Every notice there was, the newest first."""
    return list(Notice.objects.order_by("-posted_on", "id"))
