"""The own report as a file on a member's own screen, wide or narrow, in light or dark, and on paper."""

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe

from pooling.columns import columns_from
from pooling.record import record_from
from pooling.report import LicensedSite, report_html, wear_report
from pooling.simulate import single_wear

pytestmark = pytest.mark.browser


@pytest.fixture(params=[(2, 100, "mg/dL"), (5, 60, "mmol/L"), (3, 4, "mg/dL")], ids=["long", "other-unit", "few"])
def report(request):
    seed, n_pairs, unit = request.param
    record = record_from(single_wear(np.random.default_rng(seed), "thigh.front", "demo-a14", n_pairs=n_pairs))
    columns = columns_from(record)
    content = wear_report(columns, record, unit=unit, licensed=[LicensedSite("upper_arm.back", "all")], ages="adult")
    return report_html(content, columns, unit)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1100, 360])
def test_it_fits_its_width_asks_for_nothing_and_breaks_no_rule_of_access(browser, report, width, scheme):
    page = browser.new_page(viewport={"width": width, "height": 1000}, color_scheme=scheme)
    asked, complaints = [], []
    page.on("request", lambda sent: asked.append(sent.url))
    page.on("console", lambda message: complaints.append(message.text))
    page.set_content(report)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    inside = "[...document.querySelectorAll('.table')].every(table => table.scrollWidth <= table.clientWidth)"
    assert page.evaluate(inside)
    assert (asked, complaints) == ([], [])
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    page.close()


def test_in_the_dark_no_drawing_keeps_a_colour_of_the_light(browser, report):
    page = browser.new_page(color_scheme="dark")
    page.set_content(report)
    ink = "element => getComputedStyle(element).fill"
    assert {one.evaluate(ink) for one in page.query_selector_all(".plot text")} <= {
        "rgb(233, 230, 223)",
        "rgb(174, 178, 185)",
    }
    page.close()


def test_on_paper_it_is_dark_on_white(browser, report):
    page = browser.new_page(color_scheme="dark")
    page.set_content(report)
    page.emulate_media(media="print")
    style = "getComputedStyle(document.body)"
    assert page.evaluate(f"[{style}.backgroundColor, {style}.color]") == ["rgb(255, 255, 255)", "rgb(0, 0, 0)"]
    assert {
        one.evaluate("element => getComputedStyle(element).fill") for one in page.query_selector_all(".plot text")
    } <= {
        "rgb(28, 28, 28)",
        "rgb(90, 90, 90)",
    }
    page.close()
