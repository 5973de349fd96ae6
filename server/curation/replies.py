"""What owners do when moderators have asked something or left a wear out, and the date on which they are told."""

from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Max
from django.dispatch import receiver

from server.accounts.models import Account
from server.core.errors import Conflict, Fault, Invalid
from server.curation import record
from server.curation.models import Action, Decision, Told
from server.curation.standing import has_appealed, open_question, standing_of
from server.curation.words import TAGS, Ground, Reply, replies_to
from server.groups.models import Group
from server.groups.selectors import protocol_of
from server.wears import curating
from server.wears.models import Wear
from server.wears.selectors import wear_for_owner
from server.wears.signals import states_shown
from server.wears.transitions import State


@transaction.atomic
def answer_question(wear_id: UUID, *, account: Account, answer: str, value: str | None = None) -> Wear:
    """Answer what moderators asked about a wear of one's own; it is queued again."""
    group = _held(wear_id, account, "Nothing is asked about this wear.")
    question = open_question(record.entries_about(group, wear_id))
    _check_answer(question, answer, value)
    wear = curating.answer(wear_id, account=account, tag=question, value=value)
    version = protocol_of(group).version
    record.append(group, wear_id, action=Action.ANSWER, code=answer, protocol_version=version)
    return wear


def _check_answer(question: str, answer: str, value: str | None) -> None:
    possible = replies_to(question)
    if answer not in possible:
        raise _refusal("#/answer", f"Choose one of {', '.join(possible)}.")
    if (answer == Reply.CORRECTED) != (value is not None):
        right = f"Say what is right for {question}." if question in TAGS else "Leave it out."
        raise _refusal("#/value", right if answer == Reply.CORRECTED else "Only the answer corrected takes a value.")


def _refusal(pointer: str, message: str) -> Invalid:
    return Invalid("The answer cannot be taken as it is.", faults=[Fault(pointer=pointer, message=message)])


@transaction.atomic
def appeal(wear_id: UUID, *, account: Account, ground: str) -> Wear:
    """Have a wear of one's own that was left out looked at again, once."""
    if ground not in Ground.values:
        raise _refusal("#/ground", f"Choose one of {', '.join(Ground.values)}.")
    group = _held(wear_id, account, curating.NOTHING_TO_APPEAL)
    wear = wear_for_owner(wear_id, account=account)
    if standing_of(wear).left_out is None:
        raise Conflict(curating.NOTHING_TO_APPEAL)
    if has_appealed(record.entries_about(group, wear_id)):
        raise Conflict("You have appealed already, and that decision stands. You can give the wear to another group.")
    wear = curating.appeal(wear_id, account=account)
    version = protocol_of(group).version
    record.append(group, wear_id, action=Action.APPEAL, code=ground, protocol_version=version)
    return wear


def _held(wear_id: UUID, account: Account, otherwise: str) -> Group:
    """The group that a wear of one's own was given to, held before the wear as moderators hold it."""
    group = wear_for_owner(wear_id, account=account).group
    if group is None:
        raise Conflict(otherwise)
    record.locked(group)
    if not Wear.objects.filter(pk=wear_id, group=group).exclude(state=State.PRIVATE).exists():
        raise Conflict(otherwise)
    return group


@receiver(states_shown)
def tell_owners(**_: Any) -> None:
    """From an edition date on owners know what stands in the records so far."""
    for group_id, number in Decision.objects.values_list("group").annotate(Max("number")):
        Told.objects.update_or_create(group_id=group_id, defaults={"number": number})
