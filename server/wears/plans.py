"""Whether a wear's site was drawn by lot: believed where a registered plan says so, else told by a finding."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Final
from uuid import UUID

from msgspec.structs import replace

from pooling.checks import Finding
from pooling.record import WearRecord
from server.accounts.models import Account, Plan, Wearer
from server.accounts.plans import stood_before
from server.core import clock, keys
from server.groups.models import RoundPlace
from server.groups.rounds import has_begun, is_place, wearers_plans_and_places
from server.wears.models import Wear

RANDOMISED: Final = "randomised"
NOT_BELIEVED: Final = "chosen"

PLAN_NOT_REGISTERED: Final = Finding(
    code="plan_not_registered",
    severity="note",
    seen="The record says that the site was drawn by lot, and no plan registered before the wear says so.",
    why="Only an order fixed beforehand shows that nobody chose the site by how it would do.",
    do="Nothing needs doing: it counts like a chosen site. Register the next test before it starts and send its token.",
)


def is_by_lot(record: WearRecord, *, account: Account, wearer: Wearer) -> bool:
    """Whether the token is a place in a joint round, or of a plan for this body and site that stood before the start.

    A wear that names a place and does not keep to its round has been refused before.
    """
    if is_place(record.plan, account=account):
        return True
    started = clock.today() - timedelta(minutes=record.worn_min)
    return stood_before(record.plan, account=account, wearer=wearer, site=record.site, started=started)


def plan_mark(wear_id: UUID, token: str) -> str:
    """What is kept of a plan's token with a wear: a mark of this wear alone, since one plan covers several wears."""
    return keys.mac("plan of a wear", wear_id.bytes + token.encode()).hex()


@dataclass(frozen=True, slots=True)
class Registered:
    """What a wear was uploaded with: a plan, a place in a joint round, or one that is kept no more."""

    plan: Plan | None = None
    place: RoundPlace | None = None


def kept_by(account: Account) -> dict[str, Registered]:
    """The account's plans and its places in joint rounds by their tokens; the rounds that began first come first."""
    _wearers, plans, places = wearers_plans_and_places(account)
    return {plan.token: Registered(plan=plan) for plan in plans} | {
        place.plan: Registered(place=place) for place in places
    }


def registered_with(wears: Sequence[Wear], *, kept: Mapping[str, Registered]) -> dict[UUID, Registered]:
    """For each of an account's wears that was uploaded with a plan, what the account still keeps of it."""
    return {
        wear.pk: next((found for token, found in kept.items() if plan_mark(wear.pk, token) == mark), Registered())
        for wear in wears
        if (mark := wear.header.get("plan"))
    }


def rounds_waiting(wears: Sequence[Wear], *, kept: Mapping[str, Registered]) -> list[tuple[RoundPlace, list[str]]]:
    """An account's places in rounds that have begun, each with the sites of its order that no wear names it for."""
    waiting = []
    for place in (one.place for one in kept.values() if one.place and has_begun(one.place)):
        brought = {
            wear.header["site"]
            for wear in wears
            if wear.header.get("plan") and wear.header["plan"] == plan_mark(wear.pk, place.plan)
        }
        if left := [site for site in place.order if site not in brought]:
            waiting.append((place, left))
    return waiting


def believed(record: WearRecord, *, account: Account, wearer: Wearer) -> tuple[WearRecord, list[Finding]]:
    """The record as it is kept, and what its owner is told: an unregistered lot counts as a choice."""
    if record.assignment != RANDOMISED or is_by_lot(record, account=account, wearer=wearer):
        return record, []
    return replace(record, assignment=NOT_BELIEVED), [PLAN_NOT_REGISTERED]


def told_again(codes: list[str]) -> list[Finding]:
    """The finding among those that were made at upload and cannot be made again from the readings."""
    return [PLAN_NOT_REGISTERED] if PLAN_NOT_REGISTERED.code in codes else []
