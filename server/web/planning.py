"""Fair tests: what one would show, registering it before it starts, and its days to print or to put in a calendar."""

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any, Final
from uuid import UUID, uuid4

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from server.accounts import plans
from server.accounts.selectors import wearer_of
from server.core.errors import ServiceError
from server.core.idempotency import Answer, answer_once
from server.editions.expecting import document_of_everyone
from server.web import outline
from server.web.forms_planning import CalendarForm, PlanForm
from server.web.saying import word_for
from server.web.showing import MemberRequest, for_members, sent, show, show_form
from server.web.sign_in import FORM_METHODS
from server.web.wearers import own_names

BAR_STEP: Final = 30
LONGEST_BAR: Final = 190


@dataclass(frozen=True, slots=True)
class Bar:
    """What so many fingersticks a wear would show, and its place in the little chart."""

    step: Any
    top: int
    width: int
    is_asked: bool

    @property
    def baseline(self) -> int:
        return self.top + BAR_STEP // 2


def bars_of(steps: Sequence[Any], n_pairs: int) -> list[Bar]:
    longest = max(step.seen_4_of_5_points for step in steps)
    return [
        Bar(step, BAR_STEP * i, round(LONGEST_BAR * step.seen_4_of_5_points / longest), step.pairs_per_wear == n_pairs)
        for i, step in enumerate(steps)
    ]


@dataclass(frozen=True, slots=True)
class Day:
    """One day with fingersticks; the day of the test, and hours after waking."""

    day: int
    times: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PlannedWear:
    number: int
    label: str
    from_day: int
    to_day: int
    n_pairs: int
    days: tuple[Day, ...]


def wears_in(plan: plans.Plan) -> list[PlannedWear]:
    return [
        PlannedWear(
            number=wear["number"],
            label=f"{word_for(wear['site'])}, {word_for(wear['side'])}",
            from_day=wear["from_day"],
            to_day=wear["to_day"],
            n_pairs=len(wear["pricks"]),
            days=tuple(
                Day(wear["from_day"] + day - 1, tuple(_after_waking(one["after_waking_min"]) for one in pricks))
                for day, pricks in groupby(wear["pricks"], key=lambda one: one["day"])
            ),
        )
        for wear in plan.content["wears"]
    ]


def _after_waking(minutes: int) -> str:
    return _("%(hours)d h %(minutes)02d min") % {"hours": minutes // 60, "minutes": minutes % 60}


def title_of(plan: plans.Plan) -> str:
    """What a list calls a plan: its sites, its sensor model and its month."""
    sites = dict.fromkeys(wear["site"] for wear in sorted(plan.content["wears"], key=lambda wear: wear["site"]))
    month = date_format(plan.registered_month, "F Y")
    return f"{' · '.join(map(word_for, sites))}; {plan.content['sensor_model']}; {month}"


def titles_of(kept: Iterable[plans.Plan]) -> dict[str, str]:
    """Titles by token, the plan's first letters with it where two would be called the same."""
    found = {plan.token: title_of(plan) for plan in kept}
    titles = list(found.values())
    return {token: title if titles.count(title) == 1 else f"{title} ({token[:4]})" for token, title in found.items()}


@for_members
@require_safe
def list_plans(request: MemberRequest) -> HttpResponse:
    names = own_names(request.user)
    found = [
        {
            "plan": plan,
            "title": title_of(plan),
            "wearer": names.get(str(plan.wearer_id), ""),
            "n_wears": len(plan.content["wears"]),
            "n_days": plan.content["n_days"],
        }
        for plan in plans.plans_of(request.user)
    ]
    return show(request, "web/plans.html", {"plans": found, "several": len(names) > 1})


@for_members
@require_http_methods(FORM_METHODS)
def new(request: MemberRequest) -> HttpResponse:
    """Ask for a test, see what it would show, and only then register it; looking draws nothing and keeps nothing."""
    names = own_names(request.user)
    form = PlanForm(sent(request), wearers=names, initial={"wearer": next(iter(names))})
    context: dict[str, Any] = {"drawing": outline.to_choose()}
    if request.method == "POST" and form.is_valid():
        try:
            if "register" in request.POST:
                return redirect("web:plan", _registered(request, form))
            context |= _looked_at(request, form)
        except ServiceError as refusal:
            form.refuse(refusal)
    context["sites"] = form["sites"].value() or []
    return show_form(request, "web/new_plan.html", form, context)


def _looked_at(request: MemberRequest, form: PlanForm) -> dict[str, Any]:
    wearer = wearer_of(request.user, UUID(form.cleaned_data["wearer"]))
    seen = plans.outlook_of(form.as_asked, wearer=wearer, document=document_of_everyone())
    bars = bars_of(seen.steps, seen.pairs_per_wear)
    return {
        "seen": seen,
        "bars": bars,
        "height": BAR_STEP * len(bars),
        "n_pairs": seen.n_wears * seen.pairs_per_wear,
        "cap": form.cleaned_data["daily_cap"],
        "key": uuid4().hex,
        "answers": [(name, value) for name in form.fields for value in request.POST.getlist(name)],
    }


def _registered(request: MemberRequest, form: PlanForm) -> UUID:
    """Once, however often the form is sent."""
    account, asked = request.user, form.as_asked
    wearer = wearer_of(account, UUID(form.cleaned_data["wearer"]))

    def register() -> Answer:
        plan = plans.register_plan(account, asked, wearer=wearer, document=document_of_everyone())
        return 201, {"id": str(plan.pk)}

    body = json.dumps([str(wearer.pk), asked]).encode()
    _status, kept = answer_once(request.POST.get("key", ""), account_id=account.pk, body=body, act=register)
    messages.success(request, _("Registered. The order has been drawn by lot: keep to it."))
    return UUID(kept["id"])


@for_members
@require_http_methods(FORM_METHODS)
def plan(request: MemberRequest, plan_id: UUID) -> HttpResponse:
    """A plan by wears and days; sent a first day and an hour of waking, its calendar file. Neither is kept."""
    found = plans.plan_for_owner(plan_id, account=request.user)
    form = CalendarForm(sent(request))
    if request.method == "POST" and form.is_valid():
        return HttpResponse(
            plans.calendar_of(found, **form.cleaned_data),
            content_type="text/calendar; charset=utf-8",
            headers={"Content-Disposition": 'attachment; filename="plan.ics"'},
        )
    context = {"plan": found, "title": title_of(found), "content": found.content, "wears": wears_in(found)}
    return show_form(request, "web/plan.html", form, context)


@for_members
@require_http_methods(FORM_METHODS)
def drop(request: MemberRequest, plan_id: UUID) -> HttpResponse:
    found = plans.plan_for_owner(plan_id, account=request.user)
    if request.method == "POST":
        plans.drop_plan(plan_id, account=request.user)
        messages.success(request, _("Dropped."))
        return redirect("web:plans")
    return show(request, "web/drop_plan.html", {"plan": found, "title": title_of(found)})
