"""Somebody founds a group, invites, and sets its rules."""

import pytest

from tests.journeys.test_joining import check, join

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_a_group_is_founded_and_given_rules(visit):
    page = visit.page
    visit.open("/join/")
    join(page)
    visit.open("/found/")
    check(visit, "found")
    page.get_by_label("Name", exact=True).fill("River walkers")
    page.get_by_label("Short name, for the address").fill("river-walkers")
    for choice in ("adults", "whoever has an invitation", "yes: a site gets a row sooner"):
        page.get_by_label(choice).first.check()
    for label, number in (("How many members", "12"), ("How many finished wears", "10"), ("On how many", "3")):
        page.get_by_label(label).fill(number)
    page.get_by_role("button", name="Work out what it could show").click()
    assert "of 100 groups like this one" in page.locator("#odds").inner_text()
    check(visit, "found-odds")
    page.get_by_role("button", name="Found the group").click()
    check(visit, "founded")
    page.get_by_role("link", name="Invite people").click()
    page.get_by_role("button", name="Make an invitation").click()
    assert page.get_by_text("It lets one person in").is_visible()
    check(visit, "people")
    visit.open("/groups/river-walkers/moderate/")
    check(visit, "moderate")
    page.get_by_role("link", name="Rules", exact=True).click()
    page.get_by_label("Fewest pairs of a wear that counts").fill("12")
    page.get_by_label("forearm").check()
    check(visit, "rules")
    page.get_by_role("button", name="Set these rules").click()
    assert page.get_by_role("status").inner_text().startswith("Version 2")
