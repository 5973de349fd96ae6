"""Somebody without an account types pairs on a phone or a computer, without JavaScript, and prints a sheet."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

TYPED = (
    (1, 92, 88),
    (1, 143, 150),
    (3, 210, 197),
    (4, 66, 74),
    (6, 118, 109),
    (8, 177, 181),
    (9, 84, 90),
    (11, 131, 118),
)


def type_pairs(page, pairs=TYPED):
    page.get_by_label("Where the sensor sat").select_option("thigh.front")
    for number, (day, reference, sensor) in enumerate(pairs, start=1):
        page.get_by_label(f"Day, pair {number}", exact=True).fill(str(day))
        page.get_by_label(f"Fingerstick, pair {number}", exact=True).fill(str(reference))
        page.get_by_label(f"Sensor, pair {number}", exact=True).fill(str(sensor))


def check(visit, name):
    width = visit.page.viewport_size["width"]
    visit.keep_picture(f"{name}-{width}")
    assert visit.page.evaluate("document.documentElement.scrollWidth") <= width
    found = Axe().run(visit.page)
    assert found.violations_count == 0, found.generate_report()


def test_pairs_are_typed_and_their_report_is_read(visit):
    page = visit.page
    visit.open("/")
    page.get_by_role("navigation").get_by_role("link", name="Try your own pairs").click()
    check(visit, "pairs")
    type_pairs(page)
    page.get_by_role("button", name="Work it out").click()
    assert page.get_by_text("8 pairs measured, front of the thigh").is_visible()
    page.get_by_text("Every measure, and how it is worked out").click()
    # (4 + 7 + 13 + 8 + 9 + 4 + 6 + 13) mg/dL in per cent of each fingerstick, by hand: 6.79
    assert page.get_by_role("row", name="MARD: mean").get_by_role("cell").first.inner_text().endswith("6.8 %")
    assert page.get_by_label("Fingerstick, pair 8", exact=True).input_value() == "131"
    check(visit, "pairs-report")


def test_the_enter_key_works_it_out(visit):
    visit.open("/pairs/")
    type_pairs(visit.page)
    with visit.page.expect_navigation():
        visit.page.keyboard.press("Enter")
    assert visit.page.get_by_text("8 pairs measured").is_visible()


def test_what_is_wrong_is_said_beside_its_field_and_nothing_typed_is_lost(visit):
    page = visit.page
    visit.open("/pairs/")
    type_pairs(page, [(1, 92, 88), (2, 900, 150), (3, 100, "abc")])
    page.get_by_role("button", name="Work it out").click()
    assert page.get_by_role("alert").is_visible()
    page.get_by_role("link", name="Pair 3").click()
    field = page.get_by_label("Sensor, pair 3", exact=True)
    assert (field.input_value(), field.get_attribute("aria-invalid")) == ("abc", "true")
    check(visit, "pairs-faults")
    assert "422" in visit.complaints.pop()  # the browser tells of the status, and of nothing else


def test_more_lines_keep_what_was_typed(visit):
    page = visit.page
    visit.open("/pairs/")
    type_pairs(page)
    page.get_by_role("button", name="More lines").click()
    assert page.get_by_label("Fingerstick, pair 20", exact=True).is_visible()
    assert page.get_by_label("Sensor, pair 8", exact=True).input_value() == "118"


def test_targets_are_large_enough_for_a_thumb(visit):
    visit.open("/pairs/")
    boxes = [field.bounding_box() for field in visit.page.locator(".pairs input, .pairs select, .buttons button").all()]
    assert min(box["height"] for box in boxes) >= 44
    assert min(box["width"] for box in boxes) >= 44


def test_everything_works_without_javascript(browser, live_server, edition, settings):
    settings.ALLOWED_HOSTS = ["localhost", "127.0.0.1"]
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{live_server.url}/pairs/")
    type_pairs(page)
    page.get_by_role("button", name="Work it out").click()
    assert page.get_by_text("8 pairs measured").is_visible()
    context.close()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_sheet_prints_on_one_page(visit, paper):
    visit.open("/log-sheet/")
    printed = visit.page.pdf(format=paper, prefer_css_page_size=False)
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", printed)) == 1
    check(visit, "log-sheet")


def test_the_printed_sheet_has_the_caution_and_the_instructions(visit):
    visit.open("/log-sheet/")
    visit.page.emulate_media(media="print")
    visit.page.set_viewport_size({"width": 703, "height": 1031})  # A4 within its margins, at 96 dots an inch
    assert visit.page.get_by_text("Not for treatment").is_visible()
    assert visit.page.get_by_text("Keep to the instructions for use").is_visible()
    assert not visit.page.get_by_role("navigation").is_visible()
    visit.keep_picture("log-sheet-print")
