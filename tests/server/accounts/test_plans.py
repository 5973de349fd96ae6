"""Fair tests at rest: no date but a month, one order for what is asked in a month, and nobody else's."""

from datetime import date, time

import pytest

from server.accounts.models import Plan
from server.accounts.plans import (
    MOST_PLANS,
    calendar_of,
    drop_plan,
    plan_for_owner,
    plans_of,
    register_plan,
    rows_of,
    stood_before,
)
from server.accounts.selectors import wearer_of
from server.accounts.services import add_wearer, close_account
from server.core.errors import Conflict, Invalid, NotFound
from server.core.models import SensorModel

pytestmark = pytest.mark.django_db
ASKED = {"spots": [{"site": "upper_arm.back"}, {"site": "thigh.front"}], "sensor_model": "demo-a14"}


@pytest.fixture
def register(contributor, catalogue):
    def registered(wearer=None, **changes):
        own = wearer or wearer_of(contributor.account, None)
        return register_plan(contributor.account, ASKED | changes, wearer=own)

    return registered


def order(plan):
    return [(wear["site"], wear["side"]) for wear in plan.content["wears"]]


def test_a_plan_is_kept_without_a_date(register, clock):
    clock.set(date(2031, 2, 17))
    plan = register(resting=[{"site": "thigh.front", "side": "left", "days_since": 3}])
    assert plan.registered_month == date(2031, 2, 1)
    assert "2031" not in str(plan.content)
    assert "resting" not in plan.content
    assert len(plan.content["wears"]) == 4
    assert plan.content["rated_life_days"] == 14
    assert rows_of(plan)[0]["do"].startswith("New sensor")


def test_asking_again_draws_nothing_else(register, clock):
    """Nobody asks until the order suits: not by dropping a plan, nor by changing what does not matter to the order."""
    first = register()
    again = register(daily_cap=4, spots=[spot | {"sides": ["right", "left"]} for spot in ASKED["spots"][::-1]])
    assert order(register()) == order(again) == order(first)
    drop_plan(first.pk, account=first.account)
    assert order(register()) == order(first)


def test_months_and_bodies_get_orders_of_their_own(register, contributor, clock):
    other = add_wearer(contributor.account, relation="other", age_class="adult")
    found = {str(order(register(wearer))) for wearer in (None, other)}
    for month in (3, 4, 5, 6, 7, 8):
        clock.set(date(2031, month, 1))
        found |= {str(order(register(wearer))) for wearer in (None, other)}
    assert len(found) > 2


def test_whether_a_site_is_licensed_is_said_for_the_wearers_age(register):
    SensorModel.objects.filter(slug="demo-a14").update(
        licensed_sites=[{"site": "upper_arm.back", "ages": "adult"}, {"site": "thigh.front", "ages": "child"}]
    )
    notes = " ".join(register().content["notes"])
    assert "do not name front of the thigh:" in notes


REFUSED = [
    ({"spots": [{"site": "calf"}]}, "#/spots"),
    ({"spots": [{"site": "calf"}, {"site": "elbow"}]}, "#/spots/1/site"),
    ({"sensor_model": "demo-closed"}, "#/sensor_model"),
    ({"pairs_per_wear": 190}, "#/pairs_per_wear"),
    ({"begins": "2031-03-01"}, "#/begins"),
]


@pytest.mark.parametrize(("changes", "pointer"), REFUSED)
def test_what_cannot_be_planned_is_refused_with_its_place(register, changes, pointer):
    with pytest.raises(Invalid) as refused:
        register(**changes)
    assert pointer in [fault["pointer"] for fault in refused.value.faults]
    assert not Plan.objects.exists()


def test_only_so_many_are_kept(register, contributor):
    plan = register()
    Plan.objects.bulk_create(
        Plan(
            account=contributor.account,
            wearer=plan.wearer,
            registered_month=plan.registered_month,
            content=plan.content,
            insert_after_waking_min=60,
        )
        for _ in range(MOST_PLANS - 1)
    )
    with pytest.raises(Conflict):
        register()


def test_plans_are_their_owners_and_go_with_the_account(register, contributor, stranger):
    plan = register()
    assert plans_of(stranger.account) == []
    for refused in (plan_for_owner, drop_plan):
        with pytest.raises(NotFound):
            refused(plan.pk, account=stranger.account)
    assert plan_for_owner(plan.pk, account=contributor.account) == plan
    close_account(contributor.account)
    assert not Plan.objects.exists()


def test_the_calendar_holds_the_day_that_was_asked_for_and_the_plan_does_not(register):
    plan = register()
    ics = calendar_of(plan, first_day=date(2031, 5, 3), wakes_at=time(6, 45)).decode()
    assert "DTSTART:20310503T074500" in ics
    plan.refresh_from_db()
    assert "20310503" not in str(plan.content)
    assert plan.token not in ics


def test_a_token_stands_for_its_owner_body_and_sites_and_from_its_month_on(register, contributor, stranger):
    plan = register()
    own = {"account": contributor.account, "wearer": plan.wearer, "site": "thigh.front", "started": date(2031, 2, 20)}
    other = add_wearer(contributor.account, relation="other", age_class="adult")
    assert stood_before(plan.token, **own)
    assert not stood_before(plan.token, **own | {"started": date(2031, 1, 31)})
    assert not stood_before(plan.token, **own | {"site": "calf"})
    assert not stood_before(plan.token, **own | {"wearer": other})
    assert not stood_before(plan.token, **own | {"account": stranger.account})
    for token in (None, "7f3c", "0" * 32, "not a token"):
        assert not stood_before(token, **own)
