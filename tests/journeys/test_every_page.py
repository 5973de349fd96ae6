"""Every page at its address, as whoever may see it: it fits, axe finds nothing, and nothing is asked of anybody else.

A page that is added is looked at without being named here; what stands for a parameter of its address has to be.
"""

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse

from server.accounts.plans import register_plan
from server.accounts.selectors import wearer_of
from server.web.urls import app_name, urlpatterns
from tests.journeys.test_moderator import enter
from tests.server.editions.conftest import FLANK, THIGH
from tests.server.editions.printed import printed

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

NOT_NOW = {
    "codes-written-down",
    "forget-mapping",
    "answer-about-wear",
    "appeal-for-wear",
    "elsewhere-one",
    "moderate-revoke",
    "moderate-role",
    "take-off-elsewhere",
    "join-round",
}
"""What is there only after something has happened that did not happen here; journeys visit them."""
OF_MODERATORS = ("moderate", "found", "take-off")
FEWEST_PAGES = 45


@pytest.fixture
def world(pool):
    """A group with a published edition, a draft and a queue; one of its members has a wear that waits in it."""
    member, *others = pool.members(10)
    for number, other in enumerate(others):
        pool.give(other, to=pool.group, site=(THIGH, FLANK)[number % 2])
    wear = pool.give(member, to=pool.group, site=THIGH)
    printed(pool.group)
    pool.cut_off(2)
    draft = pool.draft()
    stands_for = {
        "slug": pool.group.slug,
        "number": 1,
        "site": THIGH,
        "wear_id": wear.id,
        "draft_id": draft.id,
        "scope": "pool",
        "table": "sites",
        "chart": "sites",
        "file_format": "png",
        "language": "de",
    }
    spots = [{"site": THIGH}, {"site": "upper_arm.back"}]
    asked = {"spots": spots, "sensor_model": "demo-a14"}
    stands_for["plan_id"] = register_plan(member.account, asked, wearer=wearer_of(member.account, None)).id
    stands_for |= dict.fromkeys(("mapping_id", "invitation", "member", "round_id", "neighbour_id"), wear.id)
    return member, stands_for


def addresses(stands_for):
    for pattern in urlpatterns:
        named = pattern.pattern.converters
        missing = set(named) - set(stands_for)
        assert not missing, f"say in `world` what stands for {missing} in {pattern.name}"
        yield pattern.name, reverse(f"{app_name}:{pattern.name}", kwargs={name: stands_for[name] for name in named})


def look(visit, name, path, theme):
    """What the page answers; None where the address shows no page."""
    answer = visit.page.request.get(visit.address + path, max_redirects=0)
    assert answer.status < 500, (name, answer.status)
    is_page = answer.headers["content-type"].startswith("text/html") and "content-disposition" not in answer.headers
    if answer.status != 200 or not is_page:
        return answer.status
    visit.page.emulate_media(color_scheme=theme)
    visit.open(path)
    width = visit.page.viewport_size["width"]
    assert visit.page.evaluate("document.documentElement.scrollWidth") <= width, name
    found = Axe().run(visit.page)
    assert found.violations_count == 0, (name, found.generate_report())
    visit.keep_picture(f"every-{name}-{width}-{theme}")
    return 200


@pytest.mark.parametrize("who", ["visitor", "member", "moderator"])
def test_every_page_fits_and_is_within_reach(first_visit, pool, world, who):
    visit, (member, stands_for) = first_visit, world
    if who != "visitor":
        visit.open("/sign-in/")
        enter(visit.page, member if who == "member" else pool.moderator)
    theme = "dark" if visit.page.viewport_size["width"] < 500 else "light"
    seen = {}
    for name, path in addresses(stands_for):
        if name == "sign-out" or (who == "moderator") != name.startswith(OF_MODERATORS):
            continue
        seen[name] = look(visit, name, path, theme)
    nowhere = {name for name, status in seen.items() if status == 404}
    assert nowhere <= NOT_NOW, nowhere - NOT_NOW
    if who == "member":
        assert sum(status == 200 for status in seen.values()) >= FEWEST_PAGES
