"""A member brings in a finished wear, reads its report, gives it and takes it back; without JavaScript too."""

import re
from decimal import Decimal

import pytest
from axe_playwright_python.sync_playwright import Axe

from server.core.catalogue import list_model
from tests.conftest import PASSWORD
from tests.server.exports import ENDED, INSERTED, meter_export, sensor_export

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def member(new_member, group):
    from server.groups.services import join_group, see_to_everyone

    see_to_everyone()
    list_model("demo-a14", rated_life_days=Decimal(14), licensed={"upper_arm.back": "all"})
    member = new_member()
    join_group(group, account=member.account)
    return member


def check(visit, name):
    width = visit.page.viewport_size["width"]
    visit.keep_picture(f"{name}-{width}")
    assert visit.page.evaluate("document.documentElement.scrollWidth") <= width
    found = Axe().run(visit.page)
    assert found.violations_count == 0, found.generate_report()


def enter(page, address, member):
    page.goto(f"{address}/sign-in/")
    page.get_by_label("Sign-in name").fill(member.sign_in_name)
    page.get_by_label("Password", exact=True).fill(PASSWORD)
    page.get_by_role("main").get_by_role("button", name="Sign in").click()


def choose_files(page, label="Files"):
    page.get_by_label(label, exact=True).set_input_files(
        [
            {"name": "sensor.csv", "mimeType": "text/csv", "buffer": sensor_export()},
            {"name": "meter.csv", "mimeType": "text/csv", "buffer": meter_export()},
        ]
    )


def tell_about(page):
    page.get_by_label("front of the thigh", exact=False).check()
    page.get_by_label("Sensor model", exact=True).select_option("demo-a14")
    page.get_by_label("How it ended", exact=True).select_option("removed_other")
    page.get_by_label("How the site was picked", exact=True).select_option("chosen")
    page.get_by_label("How comfortable it was to wear", exact=True).select_option("7")


def test_from_two_files_to_a_report_and_into_a_group_and_back(visit, member):
    page = visit.page
    enter(page, visit.address, member)
    check(visit, "wears-none")
    page.get_by_role("link", name="Bring in a finished wear").click()
    check(visit, "new-wear")
    choose_files(page)
    page.get_by_role("button", name="Read them", exact=True).click()
    check(visit, "files-asked")
    page.locator("[name=inserted_other]").fill(INSERTED.isoformat())
    page.locator("[name=ended_other]").fill(ENDED.isoformat())
    page.get_by_role("button", name="Go on with these answers").click()
    page.get_by_label("at planned times").check()
    page.get_by_role("button", name="Go on with these answers").click()
    assert page.get_by_text("have a sensor reading beside them").is_visible()
    check(visit, "files-read")
    page.get_by_role("button", name="Go on: where it sat, and the rest").click()
    check(visit, "about-wear")
    page.get_by_role("button", name="See all that will be stored").click()
    assert page.get_by_role("alert").is_visible()
    check(visit, "about-wear-faults")
    assert "422" in visit.complaints.pop()
    tell_about(page)
    page.get_by_role("button", name="See all that will be stored").click()
    assert page.get_by_role("heading", level=1).inner_text() == "This is all that will be stored"
    check(visit, "check-wear")
    page.get_by_role("button", name="Store it and read the report").click()
    assert page.get_by_text("What one wear cannot say").is_visible()
    check(visit, "wear")
    page.get_by_role("link", name="Give it to a group").click()
    page.get_by_label("Harbour").check()
    page.get_by_role("button", name="What could anyone learn about me?").click()
    check(visit, "give")
    page.get_by_role("button", name="Give it to Harbour").click()
    assert page.get_by_text("Volunteers look it through").is_visible()
    page.get_by_role("link", name="My wears").first.click()
    check(visit, "wears")
    page.get_by_role("link", name=re.compile("demo-a14")).click()
    page.get_by_role("link", name="Take it back").click()
    check(visit, "take-back")
    page.get_by_role("button", name="Take it back").click()
    assert page.get_by_text("It is yours alone again").is_visible()
    visit.open("/my-groups/")
    check(visit, "my-groups")


def test_typed_pairs_go_the_same_way(visit, member):
    page = visit.page
    enter(page, visit.address, member)
    visit.open("/wears/new/typed/")
    check(visit, "typed")
    page.get_by_label("On day 1 it was put on at").fill("08:30")
    for number, (day, time, reference, sensor) in enumerate([(1, "09:00", 112, 98), (2, "21:15", 150, 161)], start=1):
        for name, value in (("Day", day), ("Time", time), ("Fingerstick", reference), ("Sensor", sensor)):
            page.get_by_label(f"{name}, pair {number}", exact=True).fill(str(value))
    page.get_by_role("button", name="Go on").click()
    assert page.get_by_text("It has 2 pairs").is_visible()


def test_everything_works_without_javascript(browser, live_server, member, settings):
    settings.ALLOWED_HOSTS = ["localhost", "127.0.0.1"]
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    enter(page, live_server.url, member)
    page.goto(f"{live_server.url}/wears/new/")
    page.get_by_role("button", name="Go on without readings").click()
    tell_about(page)
    page.get_by_label("Worn for: days").fill("3")
    page.get_by_role("button", name="See all that will be stored").click()
    page.get_by_role("button", name="Store it and read the report").click()
    assert page.get_by_text("Yours alone.").is_visible()
    context.close()
