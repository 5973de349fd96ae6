"""A lot that no registered plan shows counts as a choice, and its owner is told; one that a plan shows is believed."""

from datetime import date

import pytest

from server.accounts.plans import drop_plan, register_plan
from server.accounts.selectors import wearer_of
from server.curation.selectors import queue_for_moderator
from server.wears.corrections import correct
from server.wears.plans import Registered, kept_by, registered_with
from server.wears.previews import preview_of_record
from server.wears.selectors import report_for_owner
from tests.server.records import raw

pytestmark = pytest.mark.django_db
CODE = "plan_not_registered"


@pytest.fixture
def plan(contributor, catalogue, clock):
    clock.set(date(2031, 1, 3))
    spots = [{"site": "upper_arm.back"}, {"site": "thigh.front"}]
    wearer = wearer_of(contributor.account, None)
    made = register_plan(contributor.account, {"spots": spots, "sensor_model": "demo-a14"}, wearer=wearer)
    clock.set(date(2031, 2, 20))
    return made


def codes(report):
    return [finding["code"] for finding in report["findings"]]


def test_a_registered_lot_is_believed(plan, contributor, upload):
    wear = upload(contributor, site="thigh.front", assignment="randomised", plan=plan.token)
    assert wear.header["assignment"] == "randomised"
    assert plan.token not in str(wear.header)
    assert CODE not in wear.findings


@pytest.mark.parametrize("changes", [{"plan": None}, {"plan": "7f3c0000"}, {"site": "calf"}])
def test_a_lot_that_no_plan_shows_counts_as_a_choice_and_is_told(plan, contributor, upload, changes):
    told = {"site": "thigh.front", "assignment": "randomised", "plan": plan.token} | changes
    wear = upload(contributor, **told)
    assert wear.header["assignment"] == "chosen"
    assert CODE in wear.findings
    assert CODE in codes(report_for_owner(wear.pk, account=contributor.account))
    previewed = preview_of_record(
        raw(**told), account=contributor.account, wearer=wearer_of(contributor.account, None)
    )["wears"][0]
    assert CODE in [finding["code"] for finding in previewed["findings"]]
    assert previewed["record"]["assignment"] == "randomised"


def test_a_plan_made_after_the_start_is_not_believed(plan, contributor, upload, clock):
    type(plan).objects.filter(pk=plan.pk).update(registered_month=date(2031, 3, 1))
    wear = upload(contributor, site="thigh.front", assignment="randomised", plan=plan.token)
    assert CODE in wear.findings


def test_a_chosen_site_needs_no_plan(contributor, upload):
    assert CODE not in upload(contributor, assignment="chosen").findings


def test_moderators_see_it_and_a_correction_keeps_it(contributor, give, group, moderator):
    wear = give(contributor, site="thigh.front", assignment="randomised", plan=None)
    queued = [one for one in queue_for_moderator(group, account=moderator.account) if one.id == wear.pk]
    assert CODE in queued[0].remarks
    correct(wear, "site", "calf")
    assert CODE in wear.findings


def test_correcting_the_site_takes_the_lot_with_it(plan, contributor, upload):
    wear = upload(contributor, site="thigh.front", assignment="randomised", plan=plan.token)
    correct(wear, "site", "upper_arm.back")
    assert wear.header["assignment"] == "chosen"


def test_a_wear_knows_its_plan_as_long_as_that_is_kept(plan, contributor, stranger, upload):
    wear = upload(contributor, site="thigh.front", assignment="randomised", plan=plan.token)
    without = upload(contributor, seed=2, plan=None)
    found = registered_with([wear, without], kept=kept_by(contributor.account))
    assert found == {wear.pk: Registered(plan=plan)}
    assert registered_with([wear], kept=kept_by(stranger.account)) == {wear.pk: Registered()}
    drop_plan(plan.pk, account=contributor.account)
    assert registered_with([wear], kept=kept_by(contributor.account)) == {wear.pk: Registered()}
