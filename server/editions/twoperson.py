"""Where a group's rules ask for it, what one moderator proposes another one confirms."""

from typing import TYPE_CHECKING, Final

from server.core.errors import Conflict
from server.curation.record import moderator_mark, moderator_marks
from server.groups.models import Group
from server.groups.selectors import protocol_of

if TYPE_CHECKING:
    from server.accounts.models import Account

SAME_PERSON: Final = "You proposed this. Another moderator of the group has to confirm it."


def proposer_mark(by: "Account") -> str:
    """How a proposer is known again until the second person comes; the mark leads to no account."""
    return moderator_mark(by)


def is_settled(group: Group, *, proposed_by: str, by: "Account | None") -> bool:
    """Whether this person may finish it: nobody else is asked for, or this is the second one; the operator alone may.

    Raises
    ------
    Conflict
        If it is the first person again.
    """
    if by is None or not protocol_of(group).two_person_publishing:
        return True
    if proposed_by and proposed_by in moderator_marks(by):
        raise Conflict(SAME_PERSON)
    return bool(proposed_by)
