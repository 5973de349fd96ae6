"""Taking an edition back: its address says so and why from then on; its row, and its place in every audit, stay."""

from typing import TYPE_CHECKING

from django.db import transaction

from server.core import clock
from server.core.errors import Conflict, Fault, Invalid, NotFound
from server.curation import record
from server.curation.models import Action
from server.curation.services import record_figures
from server.editions.models import Edition, Retraction, RetractionReason
from server.editions.permissions import Permission, require
from server.editions.selectors import NO_SUCH_EDITION
from server.editions.twoperson import is_settled, proposer_mark
from server.groups.models import Group

if TYPE_CHECKING:
    from server.accounts.models import Account

REASONS = tuple(RetractionReason.values)
IN_WORDS = tuple((reason.value, reason.label) for reason in RetractionReason)


@transaction.atomic
def retract_edition(group: Group, number: int, *, reason: str, by: "Account | None") -> Retraction:
    """Take an edition back for a reason of the list, or propose it where two people are asked for.

    It has a month once it is in effect. Without an account it is the operator who acts, on the machine itself.
    """
    edition = _locked(group, number, by=by)
    if reason not in REASONS:
        faults = [Fault(pointer="#/reason", message=f"Choose one of {', '.join(REASONS)}.")]
        raise Invalid("An edition is taken back for one of the listed reasons.", faults=faults)
    found = Retraction.objects.filter(edition=edition).first()
    if found is None:
        found = Retraction(edition=edition, reason=reason)
    elif found.retracted_month is not None:
        raise Conflict(f"Edition {number} was taken back already.")
    if by is not None and not is_settled(group, proposed_by=found.proposer_mark, by=by):
        found.proposer_mark = proposer_mark(by)
    elif by is not None and found.proposer_mark and found.reason != reason:
        raise Conflict(f"It was proposed as {found.reason}. Confirm that, or withdraw the proposal and make your own.")
    else:
        found.reason, found.proposer_mark, found.retracted_month = reason, "", clock.this_month()
    found.save()
    done = Action.RETRACT if found.retracted_month else Action.PROPOSE
    record_figures(group, number, action=done, code=found.reason, by=by)
    return found


@transaction.atomic
def withdraw_retraction(group: Group, number: int, *, by: "Account") -> None:
    """Drop a proposal; what is in effect stays for good."""
    edition = _locked(group, number, by=by)
    n_dropped, _ = Retraction.objects.filter(edition=edition, retracted_month__isnull=True).delete()
    if not n_dropped:
        raise Conflict("There is no proposal to withdraw. An edition that was taken back stays so.")


def require_retractor(group: Group, *, by: "Account") -> None:
    require(Permission.EDITION_RETRACT, group=group, account=by)


def _locked(group: Group, number: int, *, by: "Account | None") -> Edition:
    if by is not None:
        require_retractor(group, by=by)
    record.locked(group)
    edition = Edition.objects.filter(group=group, slot__number=number).first()
    if edition is None:
        raise NotFound(NO_SUCH_EDITION)
    return edition
