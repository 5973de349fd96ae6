"""A job under way is shown as it goes, with how long it may take once that can be said; a link without JavaScript."""

import pytest

from server.editions.models import DraftState, FitPart, PartState
from server.editions.services import start_draft
from tests.journeys.test_bringing import check, enter
from tests.server.editions.conftest import sealed  # noqa: F401

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
ESTIMATE = """async ([changes, total, now]) => {
  const {secondsLeft, leftInWords} = await import("/static/web/progress.js");
  const seconds = secondsLeft(changes.map(([at, done]) => ({at, done})), total, now);
  return [seconds, leftInWords(seconds)];
}"""


@pytest.mark.parametrize(
    ("changes", "total", "now", "seconds", "says"),
    [
        ([], 9, 50, None, "cannot be said"),
        ([[40, 3]], 9, 50, None, "cannot be said"),
        ([[40, 3], [100, 5]], 9, 100, 120, "about 2 minutes more"),  # 2 parts in 60 s: 4 more in 120 s
        ([[40, 3], [100, 5]], 9, 170, 50, "about 1 minute more"),
        ([[40, 3], [100, 5]], 6, 200, -70, "longer than the parts before"),
    ],
)
def test_an_estimate_is_made_of_whole_parts_that_were_seen(visit, changes, total, now, seconds, says):
    visit.open("/")
    found = visit.page.evaluate(ESTIMATE, [changes, total, now])
    assert found[0] == seconds
    assert says in found[1]


@pytest.fixture
def fitting(sealed):  # noqa: F811
    """A draft whose parts are still to be fitted; no worker takes them up."""
    return start_draft(sealed.group, by=sealed.moderator.account)


def address_of(draft):
    return f"/groups/{draft.group.slug}/moderate/drafts/{draft.pk}/"


def finish(draft, n_parts):
    for part in FitPart.objects.filter(draft=draft, state=PartState.DUE)[:n_parts]:
        FitPart.objects.filter(pk=part.pk).update(state=PartState.DONE, payload=b"a fit")


def test_a_job_is_shown_as_it_goes_and_the_page_turns_to_its_end(first_visit, sealed, fitting):  # noqa: F811
    page = first_visit.page
    enter(page, first_visit.address, sealed.moderator)
    page.clock.install()
    first_visit.open(address_of(fitting))
    total = fitting.parts.count()
    assert total >= 3
    page.get_by_text("How long it will take cannot be said").wait_for()
    check(first_visit, "progress")
    page.evaluate("window.stays = true")
    for done in (1, 2):
        finish(fitting, 1)
        page.clock.run_for(4_000)
        page.get_by_text(f"{done} of {total} parts are done").wait_for()
    page.get_by_text("At the pace seen so far about").wait_for()
    assert page.locator("progress").evaluate("(bar) => bar.value") == 2
    assert page.evaluate("window.stays")  # the page was not loaded anew, and whatever was begun on it stands
    check(first_visit, "progress-paced")
    type(fitting).objects.filter(pk=fitting.pk).update(state=DraftState.DISCARDED)
    page.clock.run_for(4_000)
    page.locator("[data-again]").wait_for(state="detached")
    assert page.evaluate("window.stays === undefined")


def test_without_javascript_a_link_looks_again(browser, live_server, settings, sealed, fitting):  # noqa: F811
    settings.ALLOWED_HOSTS = ["localhost", "127.0.0.1"]
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    enter(page, live_server.url, sealed.moderator)
    page.goto(live_server.url + address_of(fitting))
    assert page.get_by_text("0 of 15 parts").is_visible()
    finish(fitting, 1)
    page.get_by_role("link", name="Look again").click()
    assert page.get_by_text("1 of 15 parts").is_visible()
    assert not page.locator("[data-left]").is_visible()
    context.close()
