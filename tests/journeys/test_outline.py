"""The body as a way to a site: by touch, by keyboard, and as a field of a form, without JavaScript."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.template.loader import render_to_string

from server.web import outline

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

EDITION = "/groups/hill-walkers/editions/7/"


def test_a_touch_on_the_body_leads_to_the_site(visit):
    visit.open(EDITION)
    visit.page.locator(".body a[href$='/thigh.front/'] path").first.click()
    assert visit.page.get_by_role("heading", level=1).inner_text() == "Front of the thigh"


def test_regions_are_reached_by_keyboard_and_have_names(visit):
    page = visit.page
    visit.open(EDITION)
    links = page.get_by_role("group", name="Expected difference").get_by_role("link")
    assert links.count() == 11
    links.first.focus()
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.getAttribute('href')").endswith("/upper_arm.outer/")
    page.keyboard.press("Enter")
    page.wait_for_url("**/sites/upper_arm.outer/")


def test_a_site_of_which_nothing_can_be_said_says_so_and_leads_on(visit):
    visit.open(EDITION)
    visit.page.get_by_role("link", name="flank: nothing can be said").focus()
    visit.page.keyboard.press("Enter")
    visit.page.wait_for_url("**/sites/abdomen.flank/")
    assert visit.page.get_by_text("These figures say nothing about this site.").is_visible()
    visit.page.get_by_role("link", name="abdomen, site not named").click()
    assert visit.page.get_by_role("heading", level=1).inner_text() == "Abdomen, site not named"


@pytest.fixture
def choice(visit):
    form = render_to_string(
        "web/_body_choice.html",
        {"drawing": outline.to_choose(), "legend": "Where the sensor sat", "name": "site", "chosen": ""},
    )
    visit.open("/")
    visit.page.locator("main").evaluate(
        "(main, form) => { main.innerHTML = `<h1>A form</h1><form>${form}</form>` }", form
    )
    return visit.page


def test_a_site_is_picked_on_the_body_or_by_its_name(choice, visit):
    drawing = choice.locator(".body-choice > svg").bounding_box()
    by = drawing["width"] / 440
    for site, (x, y) in {"calf": (354, 308), "chest": (110, 98)}.items():
        choice.mouse.click(drawing["x"] + x * by, drawing["y"] + y * by)
        assert choice.locator("input:checked").get_attribute("value") == site
    visit.keep_picture(f"body-choice-{choice.viewport_size['width']}")
    choice.get_by_role("radio", name="outer side of the thigh").check()
    assert choice.locator("input:checked").get_attribute("value") == "thigh.outer"
    filled = "site => getComputedStyle(document.querySelector(`.at-${site} .region`)).fill"
    assert choice.evaluate(filled, "thigh-outer") != choice.evaluate(filled, "chest")
    found = Axe().run(choice)
    assert found.violations_count == 0, found.generate_report()
