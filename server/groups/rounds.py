"""Joint rounds: members of a small group wear one sensor model at two sites, each in an order drawn for them alone.

The draw keeps the two orders as even as it can: the rarer one is given, and between equals a keyed coin decides.
Uploads name the token of the place as their plan; a wear that names it has to be one of this model, at one of these
sites, and drawn by lot.
"""

import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final
from uuid import UUID

from django.db import transaction

from pooling.vocabulary import SITES
from server.accounts.models import Account, Plan, Wearer
from server.accounts.plans import wearers_and_plans
from server.core import clock, keys
from server.core.errors import Conflict, Fault, Invalid, NotFound
from server.core.selectors import sensor_model_slugs
from server.groups import selectors
from server.groups.models import Group, JointRound, Membership, RoundPlace
from server.groups.permissions import Permission

MOST_MONTHS_AHEAD: Final = 6
MOST_OPEN: Final = 6
MONTHS_KEPT: Final = 12
OF_A_PLACE: Final = (
    "id",
    "plan",
    "begins_with_b",
    "round__sensor_model",
    "round__site_a",
    "round__site_b",
    "round__start_month",
    "round__group__name",
    "round__group__slug",
)
NO_SUCH_ROUND: Final = "There is no such round in this group, or it has begun without you."


@dataclass(frozen=True, slots=True)
class RoundView:
    """A round as a member sees it: what everybody is told, and the own order and token where one takes part."""

    id: UUID
    sensor_model: str
    sites: tuple[str, str]
    start_month: date
    can_be_joined: bool
    order: tuple[str, str] | None
    plan: str | None


@transaction.atomic
def open_round(group: Group, *, by: Account, sensor_model: str, sites: Sequence[str], start_month: date) -> RoundView:
    """Open a round that members can join until the end of its start month."""
    selectors.require(Permission.ROUND_OPEN, group=group, account=by)
    Group.objects.select_for_update().get(pk=group.pk)
    if group.reserved or not selectors.protocol_of(group).joint_rounds:
        raise Conflict("The rules of this group do not have joint rounds.")
    start_month = start_month.replace(day=1)
    faults = _faults(group, sensor_model, sites, start_month)
    if faults:
        raise Invalid("No round was opened.", faults=faults)
    if JointRound.objects.filter(group=group, start_month__gte=clock.this_month()).count() >= MOST_OPEN:
        raise Conflict(f"{MOST_OPEN} rounds are open to join. Wait until one has begun.")
    site_a, site_b = sorted(sites)
    opened = JointRound.objects.create(
        group=group, sensor_model=sensor_model, site_a=site_a, site_b=site_b, start_month=start_month
    )
    return _view(opened, None)


def rounds_for_member(group: Group, *, account: Account | None) -> list[RoundView]:
    """The rounds of the last year and those to come, the latest first. How many take part nobody is told."""
    membership = _membership(group, account)
    own = {place.round_id: place for place in membership.places.select_related("round")}
    rounds = JointRound.objects.filter(group=group).order_by("-start_month", "id")
    return [_view(each, own.get(each.pk)) for each in rounds]


@transaction.atomic
def join_round(group: Group, round_id: UUID, *, account: Account) -> RoundView:
    """Take part, and get an order; whoever takes part already is told the same order again."""
    Group.objects.select_for_update().get(pk=group.pk)  # one draw after the other keeps the orders even
    membership = _membership(group, account)
    joined = JointRound.objects.filter(group=group, pk=round_id).first()
    if joined is None:
        raise NotFound(NO_SUCH_ROUND)
    place = RoundPlace.objects.filter(round=joined, membership=membership).select_related("round").first()
    if place is None:
        if not _can_be_joined(joined):
            raise NotFound(NO_SUCH_ROUND)
        place = RoundPlace.objects.create(
            round=joined, membership=membership, begins_with_b=_drawn(joined, account), plan=secrets.token_hex(16)
        )
    return _view(joined, place)


def _drawn(joined: JointRound, account: Account) -> bool:
    """Whether this order begins with the second site."""
    n_with_a = joined.places.filter(begins_with_b=False).count()
    n_with_b = joined.places.filter(begins_with_b=True).count()
    if n_with_a != n_with_b:
        return n_with_b < n_with_a
    return bool(keys.mac("round", joined.pk.bytes + account.pk.bytes)[0] & 1)


def require_kept(described: Any, *, account: Account) -> None:
    """Refuse a wear that names the account's place in a round and is none of that round; others are not looked at."""
    place = _own_place(described.plan, account)
    if place is None:
        return
    kept = {
        "assignment": (described.assignment, ("randomised",)),
        "sensor_model": (described.sensor_model, (place.round.sensor_model,)),
        "site": (described.site, place.order),
    }
    faults = [
        Fault(pointer=f"#/{field}", message=f"The round of this plan is about {' and '.join(expected)}.")
        for field, (value, expected) in kept.items()
        if value not in expected
    ]
    if faults:
        raise Invalid("The wear does not keep to the plan that it names; leave the plan out.", faults=faults)


def is_place(plan: str | None, *, account: Account) -> bool:
    """Whether a token is that of the account's place in a round, and so of an order drawn for it."""
    return _own_place(plan, account) is not None


def _own_place(plan: str | None, account: Account) -> RoundPlace | None:
    if plan is None:
        return None
    return RoundPlace.objects.filter(plan=plan, membership__account=account).select_related("round").first()


def places_of(account: Account) -> list[dict[str, Any]]:
    """What rounds an account takes part in, for its owner."""
    return [
        {
            "group": place.round.group.slug,
            "sensor_model": place.round.sensor_model,
            "start_month": place.round.start_month,
            "order": place.order,
            "plan": place.plan,
        }
        for place in own_places(account)
    ]


def own_places(account: Account) -> list[RoundPlace]:
    """The account's places, each with its round and group; the rounds that began first come first."""
    places = RoundPlace.objects.filter(membership__account=account).select_related("round__group")
    return list(places.order_by("round__start_month", "id"))


def wearers_plans_and_places(account: Account) -> tuple[list[Wearer], list[Plan], list[RoundPlace]]:
    """What an account's wears can belong to, asked for at once; the rounds that began first come first."""
    wearers, plans, rows = wearers_and_plans(account, beside=[f"account__memberships__places__{n}" for n in OF_A_PLACE])
    places = [
        RoundPlace(
            id=place_id,
            plan=plan,
            begins_with_b=begins_with_b,
            round=JointRound(
                sensor_model=model, site_a=site_a, site_b=site_b, start_month=month, group=Group(name=name, slug=slug)
            ),
        )
        for place_id, plan, begins_with_b, model, site_a, site_b, month, name, slug in rows
    ]
    return wearers, plans, sorted(places, key=lambda place: (place.round.start_month, place.pk))


def has_begun(place: RoundPlace) -> bool:
    return place.round.start_month <= clock.this_month()


def drop_past(today: date) -> None:
    """Forget rounds a year after their start month; wears keep a mark of their own."""
    JointRound.objects.filter(start_month__lt=clock.month_after(today, -MONTHS_KEPT)).delete()


def _membership(group: Group, account: Account | None) -> Membership:
    membership = Membership.objects.filter(group=group, account=account).first() if account else None
    if membership is None:
        raise NotFound(selectors.NO_SUCH_GROUP)
    return membership


def _view(each: JointRound, place: RoundPlace | None) -> RoundView:
    return RoundView(
        id=each.pk,
        sensor_model=each.sensor_model,
        sites=(each.site_a, each.site_b),
        start_month=each.start_month,
        can_be_joined=_can_be_joined(each),
        order=place.order if place else None,
        plan=place.plan if place else None,
    )


def _can_be_joined(each: JointRound) -> bool:
    return each.start_month >= clock.this_month()


def _faults(group: Group, sensor_model: str, sites: Sequence[str], start_month: date) -> list[Fault]:
    rules = selectors.rules_in_force(group)
    faults = []
    if sensor_model not in sensor_model_slugs() or rules.not_taken({"sensor_model": sensor_model}):
        message = "Name a sensor model of the catalogue that the rules of the group take."
        faults.append(Fault(pointer="#/sensor_model", message=message))
    if len(sites) != 2 or len(set(sites)) != 2 or not all(_is_taken(site, rules) for site in sites):
        faults.append(Fault(pointer="#/sites", message="Name two sites that the rules of the group take."))
    if not clock.this_month() <= start_month <= clock.month_after(clock.today(), MOST_MONTHS_AHEAD):
        message = f"A round starts this month or within the next {MOST_MONTHS_AHEAD}."
        faults.append(Fault(pointer="#/start_month", message=message))
    return faults


def _is_taken(site: str, rules: selectors.RulesInForce) -> bool:
    return site in SITES and rules.not_taken({"site": site}) is None
