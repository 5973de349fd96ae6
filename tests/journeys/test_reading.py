"""A reader goes through everything that a set of figures offers: sites, side by side, what changed, a page to print."""

import re
from dataclasses import replace
from datetime import date

import pytest
from axe_playwright_python.sync_playwright import Axe

from pooling.edition import assemble, canonical_bytes, sha256_hex
from pooling.vocabulary import REGIONS_WITH_ROW, SITES
from tests.pooling.conftest import make_cell, make_context, make_contrast, make_fit, make_outcomes

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

AT = "/groups/hill-walkers/editions/7/"
PAGES = {
    "figures": AT,
    "site-full": f"{AT}sites/upper_arm.back/",
    "site-nothing": f"{AT}sites/abdomen.flank/",
    "compare": f"{AT}compare/?site=thigh.front&site=upper_arm.back&site=chest",
    "compare-form": f"{AT}compare/",
    "choice": "/groups/hill-walkers/choice/",
    "earlier": "/groups/hill-walkers/editions/",
    "sheet": f"{AT}sheet/",
    "waiting": "/groups/orchard/",
}


@pytest.fixture
def community(edition, moderator):
    """Beside the edition an earlier one, a group that waits, and figures of everyone."""
    from server.editions.models import Edition, Slot
    from server.groups.models import Group
    from server.groups.services import found_group

    found_group(
        founder=moderator.account,
        slug="orchard",
        name="Orchard",
        description="They prune.",
        public=True,
        feeds_everyone=True,
        wearers="mixed",
    )
    slots = {number: Slot.objects.create(number=number, cut_off=date(2026, number, 1)) for number in (5, 6)}
    everyone, _ = Group.objects.get_or_create(
        slug="everyone",
        defaults={
            "name": "Everyone",
            "public": True,
            "feeds_everyone": True,
            "wearers": "mixed",
            "founded_on": "2030-01-01",
        },
    )
    fit = make_fit()
    earlier = replace(fit, sites=fit.sites[1:], contrasts=())
    for group, slot, told in ((edition.group, slots[6], earlier), (everyone, slots[5], fit)):
        document = assemble(told, make_context(number=slot.number, group_slug=group.slug), make_outcomes())
        raw = canonical_bytes(document)
        Edition.objects.create(
            group=group, slot=slot, document=raw, sha256=sha256_hex(raw), published_month=slot.cut_off
        )


LOOKS = [(name, "light") for name in PAGES] + [(name, "dark") for name in ("figures", "site-full", "compare")]


@pytest.mark.parametrize(("name", "scheme"), LOOKS)
def test_every_page_fits_its_width_and_breaks_no_rule_of_access(visit, community, name, scheme):
    visit.page.emulate_media(color_scheme=scheme)
    visit.open(PAGES[name])
    width = visit.page.viewport_size["width"]
    visit.page.wait_for_load_state("networkidle")
    visit.keep_picture(f"{name}-{width}-{scheme}")
    assert visit.page.evaluate("document.documentElement.scrollWidth") <= width
    found = Axe().run(visit.page)
    assert found.violations_count == 0, found.generate_report()


def test_sites_are_set_side_by_side(visit):
    page = visit.page
    visit.open(AT)
    page.get_by_role("link", name="Side by side").click()
    page.get_by_label("front of the thigh").check()
    page.get_by_label("back of the upper arm").check()
    page.get_by_role("button", name="Set side by side").click()
    assert page.get_by_role("heading", name="nearer to the fingerstick than front of the thigh").is_visible()
    page.get_by_role("button", name="mmol/L").click()
    assert page.get_by_text("At a fingerstick of 3.9 mmol/L").first.is_visible()
    assert page.get_by_label("front of the thigh", exact=True).is_checked()


def test_what_changed_is_read_from_the_two_documents(visit, community):
    visit.open(AT)
    visit.page.get_by_role("link", name="What changed").click()
    row = visit.page.get_by_role("row", name="back of the upper arm")
    assert "new" in row.inner_text()


@pytest.fixture
def full_edition(edition):
    """Every site and region has a row, and each site stands against the one that the instructions name."""
    from server.editions.models import Edition, Slot

    other = [site for site in SITES if site != "upper_arm.back"]
    rows = [make_cell(place, n_people=40, mard=9 + i / 4) for i, place in enumerate((*SITES, *REGIONS_WITH_ROW))]
    contrasts = [make_contrast(site, "upper_arm.back", difference=i / 4) for i, site in enumerate(other)]
    fit = replace(make_fit(), sites=tuple(rows), contrasts=tuple(contrasts))
    raw = canonical_bytes(assemble(fit, make_context(number=8), make_outcomes()))
    slot = Slot.objects.create(number=8, cut_off=date(2026, 8, 1))
    Edition.objects.create(
        group=edition.group, slot=slot, document=raw, sha256=sha256_hex(raw), published_month=slot.cut_off
    )


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_page_to_print_is_one_page_even_if_every_site_has_a_row(visit, full_edition, paper):
    visit.open("/groups/hill-walkers/editions/8/sheet/")
    assert visit.page.locator(".handout tbody tr").count() == len(SITES) + len(REGIONS_WITH_ROW)
    visit.page.get_by_text("Not for treatment").first.wait_for()
    visit.page.emulate_media(media="print")
    visit.page.set_viewport_size({"width": 703, "height": 1031})
    visit.keep_picture("sheet-print")
    printed = visit.page.pdf(format=paper, prefer_css_page_size=False)
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", printed)) == 1


def test_figures_print_dark_on_white_without_what_is_only_for_screens(visit):
    visit.open(AT)
    visit.page.emulate_media(media="print", color_scheme="dark")
    visit.page.set_viewport_size({"width": 703, "height": 1031})
    style = "getComputedStyle(document.body)"
    assert visit.page.evaluate(f"[{style}.backgroundColor, {style}.color]") == ["rgb(255, 255, 255)", "rgb(0, 0, 0)"]
    papers = "[...document.querySelectorAll('table')].map(one => getComputedStyle(one).backgroundColor)"
    assert set(visit.page.evaluate(papers)) == {"rgb(255, 255, 255)"}
    assert not visit.page.get_by_role("navigation", name="These figures").is_visible()
    visit.keep_picture("figures-print")


def test_tables_that_are_folded_away_stand_on_paper_with_what_they_are_called(visit, edition):
    visit.open(f"{AT}compare/?site=upper_arm.back&site=chest")
    folded = visit.page.locator("details.wide")
    parts = folded.locator("summary, table")
    assert [part.is_visible() for part in parts.all()] == [True, False]
    visit.page.emulate_media(media="print")
    assert [part.is_visible() for part in parts.all()] == [True, True]


def test_the_first_view_weighs_little(visit):
    weights = []
    visit.page.on("response", lambda answer: weights.append((answer.url, len(answer.body()))))
    visit.open(AT)
    visit.page.wait_for_load_state("networkidle")
    assert sum(size for _, size in weights) <= 150_000, weights


def test_everything_is_read_without_javascript(browser, live_server, edition, settings):
    settings.ALLOWED_HOSTS = ["localhost", "127.0.0.1"]
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(live_server.url + PAGES["compare"])
    assert page.get_by_role("row", name="Expected difference").is_visible()
    context.close()
