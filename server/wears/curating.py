"""The steps that moderators order and owners answer: approve, leave out, ask, answer, appeal."""

from uuid import UUID

from django.db import transaction

from server.accounts.models import Account
from server.core.errors import Conflict
from server.groups.models import Group
from server.groups.selectors import rules_in_force
from server.wears.corrections import correct
from server.wears.intake import summary_of
from server.wears.models import Wear
from server.wears.selectors import columns_of
from server.wears.steps import given_to, own, step
from server.wears.transitions import State

NOTHING_TO_APPEAL = "Nothing has been decided about this wear that you could appeal against."
PASSED = (
    "An edition date has passed since this wear was approved, and it may be counted. It can only be left out now: then "
    "nothing more of it is counted."
)

TOLD = (
    "This wear has been left out already, and an edition date has passed over that. It comes back only if its owner "
    "appeals."
)


@transaction.atomic
def approve(wear_id: UUID, *, group: Group) -> int:
    """Let a queued wear wait for the next cut-off, summarised under the group's rules; returns their version.

    Under these it is counted, whatever the rules become afterwards.
    """
    wear, in_force = given_to(wear_id, group), rules_in_force(group)
    if _is_about_the_record_alone(wear):
        return in_force.protocol.version
    columns = columns_of(wear)
    if columns is None:
        raise Conflict("The readings of this wear have been erased on their date; nobody can check it. Leave it out.")
    in_force.require_taken(wear.header)
    wear.appealed = False
    step(wear, State.APPROVED)
    summary_of(wear, columns, in_force.rules, everyone_version=in_force.versions[1]).save(force_update=True)
    return in_force.protocol.version


@transaction.atomic
def exclude(wear_id: UUID, *, group: Group) -> None:
    wear = given_to(wear_id, group)
    if not _is_about_the_record_alone(wear):
        wear.appealed = False
        step(wear, State.EXCLUDED)


def _is_about_the_record_alone(wear: Wear) -> bool:
    """What was counted is final for the pool: a decision about an appeal then says in the record who was right."""
    if wear.state != State.ADMITTED or not wear.appealed:
        return False
    wear.appealed = False
    wear.save(update_fields=["appealed"])
    return True


@transaction.atomic
def count_no_more(wear_id: UUID, *, group: Group) -> None:
    """Leave out a wear that edition dates have passed over: what counts stays, and nothing more of it is counted.

    Whether it waits, is counted in part or in full, or has been taken back makes no difference to whoever calls.
    """
    wear = Wear.objects.select_for_update(of=("self",)).filter(pk=wear_id, group=group).first()
    if wear is None:
        return
    if wear.state == State.ADMITTED:
        wear.awaited.all().delete()
        return
    wear.released = False  # seen again only if its owner appeals
    if wear.state == State.APPROVED:
        step(wear, State.QUEUED)
    step(wear, State.EXCLUDED)


@transaction.atomic
def queue_again(wear_id: UUID, *, group: Group) -> None:
    """Undo a decision, or take a question back, as long as no cut-off has come since."""
    wear = given_to(wear_id, group)
    if wear.state == State.ADMITTED or (wear.state == State.APPROVED and wear.awaited.exists()):
        raise Conflict(PASSED)
    if wear.state == wear.shown_state == State.EXCLUDED:
        raise Conflict(TOLD)
    step(wear, State.QUEUED)


@transaction.atomic
def ask(wear_id: UUID, *, group: Group) -> None:
    """Have the owner asked; a question is seen at once, or it would wait a month for its answer."""
    step(given_to(wear_id, group), State.ASKED, shown=True)


@transaction.atomic
def answer(wear_id: UUID, *, account: Account, tag: str = "", value: str | None = None) -> Wear:
    """Queue a wear again whose owner was asked. A tag that was wrong is put right; nothing else changes a record."""
    wear, _ = own(wear_id, account)
    if wear.state != State.ASKED:
        raise Conflict("Nothing is asked about this wear.")
    if value is not None:
        correct(wear, tag, value)
    step(wear, State.QUEUED, shown=True)
    return wear


@transaction.atomic
def appeal(wear_id: UUID, *, account: Account) -> Wear:
    """Have a wear that was left out looked at again. One that was counted stays as it is; the record may change."""
    wear, _ = own(wear_id, account)
    if wear.state not in (State.EXCLUDED, State.ADMITTED):
        raise Conflict(NOTHING_TO_APPEAL)
    wear.released = wear.appealed = True
    if wear.state == State.ADMITTED:
        wear.save(update_fields=["released", "appealed"])
    else:
        step(wear, State.QUEUED, shown=True)
    return wear
