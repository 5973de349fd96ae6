"""A reader without an account finds out what a site shows. Access by the rules of WCAG 2.2 AA, as axe checks them."""

import pytest
from axe_playwright_python.sync_playwright import Axe

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PAGES = {
    "home": "/",
    "edition": "/groups/hill-walkers/",
    "site": "/groups/hill-walkers/editions/7/sites/thigh.front/",
}


def test_from_the_home_page_to_a_site_and_its_figures(visit):
    page = visit.page
    visit.open("/")
    page.get_by_role("link", name="Hill walkers").click()
    assert page.get_by_role("heading", level=1).inner_text() == "Hill walkers"
    page.get_by_role("link", name="front of the thigh", exact=True).first.click()
    assert page.get_by_role("heading", level=1).inner_text() == "Front of the thigh"
    assert page.get_by_text("When the fingerstick was 70 mg/dL").is_visible()


def test_the_unit_changes_at_one_click(visit):
    page = visit.page
    visit.open(PAGES["edition"])
    page.get_by_role("button", name="mmol/L").click()
    assert page.get_by_text("Fingerstick 3.9 mmol/L").count() == 1
    assert page.get_by_role("button", name="mmol/L").get_attribute("aria-pressed") == "true"


def test_the_plot_is_drawn_and_says_what_it_shows(visit):
    visit.open(PAGES["edition"])
    plot = visit.page.get_by_role("img").first
    plot.scroll_into_view_if_needed()
    visit.page.wait_for_load_state("networkidle")
    assert plot.evaluate("image => image.complete && image.naturalWidth > 0")
    assert "smallest for back of the upper arm" in plot.get_attribute("alt")


def test_every_chart_comes_for_paper_without_being_scrolled_to_and_finds_its_room_kept(visit):
    page = visit.page
    visit.open(PAGES["edition"])
    plots = page.locator(".chart img")
    assert plots.count() >= 2
    widths = plots.evaluate_all("plots => plots.map((plot) => plot.getBoundingClientRect().width)")
    page.keyboard.press("Shift")  # any sign that somebody goes on
    page.wait_for_function("() => [...document.querySelectorAll('.chart img')].every((plot) => plot.naturalWidth > 0)")
    assert plots.evaluate_all("plots => plots.map((plot) => plot.getBoundingClientRect().width)") == widths
    assert min(widths) > 250


def test_everything_is_reached_by_keyboard(visit):
    page = visit.page
    visit.open("/")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the content"
    for _ in range(20):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.textContent") == "Hill walkers":
            break
    page.keyboard.press("Enter")
    page.wait_for_url("**/groups/hill-walkers/")


@pytest.mark.parametrize("name", PAGES)
def test_pages_fit_their_width_and_break_no_rule_of_access(visit, name):
    visit.open(PAGES[name])
    width = visit.page.viewport_size["width"]
    visit.keep_picture(f"{name}-{width}")
    assert visit.page.evaluate("document.documentElement.scrollWidth") <= width
    found = Axe().run(visit.page)
    assert found.violations_count == 0, found.generate_report()
