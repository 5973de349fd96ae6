"""A fair test: asked for, looked at, registered, printed, put in a calendar, and a wear brought in with it."""

import pytest

from server.accounts.models import Plan
from tests.journeys.test_bringing import check, enter, member, tell_about  # noqa: F401

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def ask(page):
    page.get_by_label("calf", exact=False).check()
    page.get_by_label("back of the upper arm", exact=False).check()
    page.get_by_label("Sensor model", exact=True).select_option("demo-a14")
    page.get_by_label("Most fingersticks on any day").fill("4")


def bring_in_with(page, visit, plan):
    visit.open("/wears/new/")
    page.get_by_role("button", name="Go on without readings").click()
    tell_about(page)
    page.get_by_label("calf", exact=False).check()
    page.get_by_label("How the site was picked", exact=True).select_option("randomised")
    page.get_by_label("Fair test or joint round that it belongs to").select_option(plan.token)
    page.get_by_label("Worn for: days").fill("0")
    check(visit, "about-wear-plan")
    page.get_by_role("button", name="See all that will be stored").click()
    page.get_by_role("button", name="Store it and read the report").click()
    assert page.get_by_text("From your fair test:").is_visible()
    check(visit, "wear-of-plan")


def test_a_fair_test_is_planned_and_kept_to(visit, member):  # noqa: F811
    page = visit.page
    enter(page, visit.address, member)
    page.get_by_role("link", name="Fair tests").click()
    check(visit, "plans-none")
    page.get_by_role("link", name="Plan a fair test").click()
    check(visit, "plan-new")
    ask(page)
    page.get_by_role("button", name="See what it would show").click()
    assert page.get_by_role("heading", name="What it would take and show").is_visible()
    assert page.get_by_label("calf", exact=False).is_checked()
    check(visit, "plan-outlook")
    page.emulate_media(color_scheme="dark")
    check(visit, "plan-outlook-dark")
    page.emulate_media(color_scheme="light")
    page.get_by_role("button", name="Register it and draw the order").click()
    check(visit, "plan-registered")
    plan = Plan.objects.get()
    assert page.get_by_role("heading", level=2, name="Wear 4").is_visible()
    page.get_by_label("Day of the first sensor").fill("2037-05-04")
    page.get_by_label("When the wearer wakes").fill("07:00")
    with page.expect_download() as made:
        page.get_by_role("button", name="Make the calendar file").click()
    assert made.value.suggested_filename == "plan.ics"
    page.emulate_media(media="print")
    visit.keep_picture("plan-print")
    assert not page.get_by_role("button", name="Make the calendar file").is_visible()
    page.emulate_media(media="screen")
    page.get_by_role("link", name="Fair tests").first.click()
    assert page.get_by_role("link", name=plan.content["sensor_model"]).is_visible()
    check(visit, "plans")
    bring_in_with(page, visit, plan)
    visit.open(f"/plans/{plan.pk}/drop/")
    check(visit, "plan-drop")
