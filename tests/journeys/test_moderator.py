"""A moderator goes from a queue of forty mixed wears to published figures, on pages alone."""

import json
import re
from dataclasses import dataclass

import numpy as np
import pytest

from server.accounts.selectors import wearer_of
from server.curation.release import release_batches
from server.editions.models import Edition
from server.wears.copies import look_for_copies
from server.wears.models import Wear
from server.wears.services import accept_upload, give_to_group
from tests.conftest import PASSWORD
from tests.findings.queue import N_PLANTED, mixed
from tests.findings.study import good_records
from tests.journeys.test_joining import check
from tests.server.editions.conftest import FIRST, FLANK, THIGH
from tests.server.editions.test_neighbours import add, packed

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
FACTS = re.compile(r"(few pairs|measured for calibration)(; (few pairs|measured for calibration))*")
OF_ALL = {"assignment": "chosen", "plan": None, "sensor_model": "demo-a14", "end_reason": "fell_off"}


@dataclass
class Given:
    """Forty wears in the queue, each of somebody else, and which of them have a planted fault."""

    planted: set[str]
    fine: set[str]


@pytest.fixture
def given(pool):
    rng = np.random.default_rng(20310201)
    fine, planted = mixed(rng, good_records(rng, 160))
    people = iter(pool.members(len(fine) + len(planted)))
    ids = {}
    for name, records in (("planted", planted.values()), ("fine", fine)):
        ids[name] = {_give(next(people), record, pool, number) for number, record in enumerate(records)}
    look_for_copies()
    release_batches(FIRST)
    return Given(**ids)


def _give(member, record, pool, number):
    """One wear of this person, at one of two sites."""
    content = record | OF_ALL | {"site": (THIGH, FLANK)[number % 2]}
    wearer = wearer_of(member.account, None)
    wear = accept_upload(json.dumps(content).encode(), account=member.account, wearer=wearer).wear
    give_to_group(wear.id, account=member.account, group=pool.group)
    return str(wear.id)


def enter(page, member):
    page.get_by_label("Sign-in name").fill(member.sign_in_name)
    page.get_by_label("Password", exact=True).fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()


def test_from_a_queue_of_forty_to_published_figures(first_visit, pool, given):
    visit = first_visit
    page, queue = visit.page, f"/groups/{pool.group.slug}/moderate/queue/"
    visit.open(f"/sign-in/?next={queue}")
    enter(page, pool.moderator)
    check(visit, "queue")
    odd = [(link.get_attribute("href"), item.locator("p").inner_text()) for item, link in _odd(page)]
    visit.open(odd[0][0])
    check(visit, "wear-to-decide")
    for address, remarks in odd:
        visit.open(address)
        if FACTS.fullmatch(remarks):
            page.get_by_role("radio", name="approve it").check()
        else:
            page.get_by_role("radio", name="leave it out").check()
            page.get_by_label("If you leave it out: why?").select_option("not_believable")
        page.get_by_role("button", name="Decide").click()
    while page.get_by_role("button", name="Approve what is ticked").count():
        page.get_by_role("button", name="Approve what is ticked").click()
    assert page.get_by_text("There is nothing to decide about at present").is_visible()
    left_out = {str(wear) for wear in Wear.objects.filter(state="excluded").values_list("pk", flat=True)}
    assert len(left_out & given.planted) >= N_PLANTED - 1
    assert len(left_out & given.fine) <= 2
    visit.open(f"/groups/{pool.group.slug}/moderate/record/")
    check(visit, "record")

    page.goto("about:blank")
    assert pool.cut_off(1)
    visit.open(f"/groups/{pool.group.slug}/moderate/editions/")
    check(visit, "drafts")
    page.get_by_role("button", name="Work out a draft").click()
    draft = page.url
    assert page.get_by_role("progressbar").is_visible()
    check(visit, "draft-begun")
    page.goto("about:blank")  # figures are worked out behind a wall that nobody else may ask through
    pool.run_due_jobs()
    page.goto(draft)
    assert page.get_by_role("heading", name="Can it be believed?").is_visible()
    check(visit, "draft")
    page.get_by_role("button", name="Publish these figures").click()
    assert page.get_by_role("status").inner_text().startswith("Published")
    assert Edition.objects.get().group == pool.group
    visit.open(f"/groups/{pool.group.slug}/moderate/editions/1/take-back/")
    check(visit, "take-back")
    shown = add(pool.group, packed(), pool.moderator)
    for address, picture in (
        ("moderate/elsewhere/", "hand-in"),
        ("elsewhere/", "elsewhere"),
        (f"elsewhere/{shown.pk}/", "elsewhere-one"),
    ):
        visit.open(f"/groups/{pool.group.slug}/{address}")
        check(visit, picture)


def _odd(page):
    for item in page.locator("ol.doors > li").all():
        yield item, item.get_by_role("link")
