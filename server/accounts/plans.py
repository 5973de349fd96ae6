"""Fair tests that members register before they start them, so that it can be believed that the order was drawn.

The order hangs on a key, the wearer, the sites and the month: whoever asks again in the same month gets the same one,
so nobody can draw until it suits. Nothing is kept of when a test begins or when somebody wakes.
"""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import date, time
from typing import Any, Final
from uuid import UUID

import msgspec
import numpy as np
from django.db import transaction

from pooling import planning
from pooling.planning import Outlook, PlanInvalid, PlanRequest
from server.accounts.models import Account, AgeClass, Plan, Wearer
from server.core import clock, journal, keys
from server.core.decoding import converted
from server.core.errors import Conflict, Fault, Invalid, NotFound
from server.core.models import SensorModel

MOST_PLANS: Final = 20
DROPPED_PLAN: Final = "dropped-plan"  # what the erasure journal says of plans
NOT_PLANNED: Final = "This cannot be planned so; nothing was registered."
NO_SUCH_PLAN: Final = "There is no such plan among yours."


def outlook_of(content: Any, *, wearer: Wearer, document: Mapping[str, Any] | None = None) -> Outlook:
    """What a fair test would take and show; nothing is drawn and nothing kept. Refuses what `register_plan` refuses."""
    request, told = _asked(content, wearer)
    with _faults_told():
        return planning.outlook(request, **told, document=document)


@transaction.atomic
def register_plan(account: Account, content: Any, *, wearer: Wearer, document: Mapping[str, Any] | None = None) -> Plan:
    """Draw a fair test and remember it; `document` is the edition whose spreads say what it can show."""
    request, told = _asked(content, wearer)
    Account.objects.select_for_update().get(pk=account.pk)
    if account.plans.count() >= MOST_PLANS:
        raise Conflict(f"At most {MOST_PLANS} plans are kept. Drop one first.")
    month = clock.this_month()
    with _faults_told():
        plan = planning.make_plan(request, _lot(request, wearer, month), **told, document=document)
    return Plan.objects.create(
        account=account,
        wearer=wearer,
        registered_month=month,
        content=msgspec.to_builtins(plan),
        insert_after_waking_min=request.insert_after_waking_min,
    )


def _asked(content: Any, wearer: Wearer) -> tuple[PlanRequest, dict[str, Any]]:
    """The request, and what the catalogue says of its sensor model for this wearer."""
    request = converted(content, PlanRequest, detail=NOT_PLANNED)
    model = SensorModel.objects.filter(slug=request.sensor_model, open=True).first()
    if model is None:
        message = "This sensor model is not in the catalogue. Choose one of GET /api/v1/sensor-models/."
        raise Invalid(NOT_PLANNED, faults=[Fault(pointer="#/sensor_model", message=message)])
    licensed = [one["site"] for one in model.licensed_sites if _is_meant(one["ages"], wearer)]
    return request, {"rated_life_days": int(model.rated_life_days), "licensed_sites": licensed}


@contextmanager
def _faults_told() -> Iterator[None]:
    try:
        yield
    except PlanInvalid as error:
        faults = [Fault(pointer=each.pointer, code=each.code, message=each.message) for each in error.faults]
        raise Invalid(NOT_PLANNED, faults=faults) from None


def _is_meant(ages: str, wearer: Wearer) -> bool:
    return ages in ("all", AgeClass(wearer.age_class).value)


def _lot(request: PlanRequest, wearer: Wearer, month: date) -> np.random.Generator:
    """Random numbers that hang on nothing that could be varied until the order suits."""
    asked = "|".join([month.isoformat(), request.design, *sorted(spot.site for spot in request.spots)])
    return np.random.default_rng(int.from_bytes(keys.mac("order of a plan", wearer.pk.bytes + asked.encode())))


def plans_of(account: Account) -> list[Plan]:
    """In the order of their random ids."""
    return list(Plan.objects.filter(account=account).order_by("id"))


def wearers_and_plans(
    account: Account, *, beside: Sequence[str] = ()
) -> tuple[list[Wearer], list[Plan], list[tuple[Any, ...]]]:
    """The account's wearers and its plans, asked for at once, for forms that offer both.

    `beside` names columns of what else hangs on the account and is asked for with them; its rows come last, each once.
    """
    of_wearer, of_plan = ("id", "relation", "of_age_month"), ("id", "registered_month", "content")
    names = (*of_wearer, *(f"plans__{name}" for name in of_plan), *beside)
    rows = list(Wearer.objects.filter(account=account).order_by("id", "plans__id").values_list(*names))
    wearers = {row[0]: Wearer(**dict(zip(of_wearer, row[:3], strict=True))) for row in rows}
    plans = {row[3]: Plan(**dict(zip(of_plan, row[3:6], strict=True))) for row in rows if row[3] is not None}
    others = dict.fromkeys(row[6:] for row in rows)
    return list(wearers.values()), list(plans.values()), [row for row in others if any(row)]


def plan_for_owner(plan_id: UUID, *, account: Account) -> Plan:
    plan = Plan.objects.filter(pk=plan_id, account=account).first()
    if plan is None:
        raise NotFound(NO_SUCH_PLAN)
    return plan


@transaction.atomic
def drop_plan(plan_id: UUID, *, account: Account) -> None:
    """Forget a plan; wears that carried its token keep that they were drawn by lot."""
    _drop(plan_for_owner(plan_id, account=account))


def _drop(plan: Plan) -> None:
    journal.note(DROPPED_PLAN, plan.pk.bytes)
    plan.delete()


def drop_noted_plans(marks: frozenset[bytes]) -> int:
    """Drop again, after a restore, the plans that had been dropped."""
    noted = [plan for plan in Plan.objects.all() if journal.mark_of(DROPPED_PLAN, plan.pk.bytes) in marks]
    for plan in noted:
        _drop(plan)
    return len(noted)


def calendar_of(plan: Plan, *, first_day: date, wakes_at: time) -> bytes:
    """The plan as a calendar file for a first day and an hour of waking that are kept nowhere."""
    return planning.plan_ics(
        _plan(plan),
        token=plan.token,
        first_day=first_day,
        wakes_at=wakes_at,
        stamped_on=clock.today(),
        insert_after_waking_min=plan.insert_after_waking_min,
    )


def rows_of(plan: Plan) -> list[dict[str, str | int]]:
    """The plan as rows to print."""
    return planning.rows(_plan(plan))


def _plan(plan: Plan) -> planning.Plan:
    return msgspec.convert(plan.content, planning.Plan)


def stood_before(token: str | None, *, account: Account, wearer: Wearer, site: str, started: date) -> bool:
    """Whether a plan with this token was the account's, for this body and with this site, before a wear started.

    Only months are known, so a plan of the month in which the wear started is believed.
    """
    try:
        plan = Plan.objects.filter(pk=UUID(token or ""), account=account, wearer=wearer).first()
    except ValueError:
        return False
    return (
        plan is not None
        and plan.registered_month <= started
        and any(wear["site"] == site for wear in plan.content["wears"])
    )
