"""Taking one step of a wear's life, with its row locked: what owners, moderators and cut-offs build on."""

from uuid import UUID

from server.accounts.models import Account, Holding
from server.accounts.selectors import holding_of
from server.core.errors import Conflict, NotFound
from server.groups.models import Group
from server.wears.models import Wear, WearPairs
from server.wears.selectors import NO_SUCH_WEAR, NOT_IN_QUEUE
from server.wears.transitions import State, allowed


def locked(wear_id: UUID) -> Wear:
    wear = Wear.objects.select_for_update(of=("self",)).filter(pk=wear_id).first()
    if wear is None:
        raise NotFound(NO_SUCH_WEAR)
    return wear


def own(wear_id: UUID, account: Account) -> tuple[Wear, Holding]:
    holding = holding_of(wear_id)
    if holding is None or holding.account_id != account.id:
        raise NotFound(NO_SUCH_WEAR)
    return locked(wear_id), holding


def given_to(wear_id: UUID, group: Group) -> Wear:
    """A wear that was given to the group; taken back meanwhile, it is in nobody's queue."""
    wear = Wear.objects.select_for_update(of=("self",)).filter(pk=wear_id, group=group).first()
    if wear is None:
        raise NotFound(NOT_IN_QUEUE)
    return wear


def step(wear: Wear, state: State, *, shown: bool = False) -> None:
    """Take one step of the table; `shown` when the owner took it and so sees it at once."""
    if not allowed(wear.state, state):
        raise Conflict(f"A wear that is {State(wear.state).label.lower()} cannot become {state.label.lower()}.")
    wear.previous_state, wear.state = wear.state, state
    if state != State.APPROVED:
        wear.awaited.all().delete()
    if shown:
        wear.shown_state = state
    wear.save(update_fields=["previous_state", "state", "shown_state", "group", "copied", "released", "appealed"])


def has_readings(wear: Wear) -> bool:
    return WearPairs.objects.filter(wear=wear).exists()
