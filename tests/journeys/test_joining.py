"""Somebody joins on a phone or a computer, comes back, gets back in, and closes the account again."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PASSWORD = "four ordinary words here"


def check(visit, name):
    width = visit.page.viewport_size["width"]
    visit.keep_picture(f"{name}-{width}")
    assert visit.page.evaluate("document.documentElement.scrollWidth") <= width
    found = Axe().run(visit.page)
    assert found.violations_count == 0, found.generate_report()


def join(page):
    """From the form to the first page of somebody who is signed in; what was to be written down."""
    page.get_by_label("Keep my wears for my own reports").check()
    page.get_by_label("Password", exact=True).fill(PASSWORD)
    page.get_by_role("button", name="Agree and join").click()
    name = page.locator(".keepsake dd code").first.inner_text()
    codes = [code.inner_text() for code in page.locator(".keepsake ol code").all()]
    return name, codes


def test_joining_takes_a_minute_and_needs_no_name(visit):
    page = visit.page
    visit.open("/")
    page.get_by_role("navigation").get_by_role("link", name="Join").click()
    check(visit, "join")
    name, codes = join(page)
    assert re.fullmatch(r"[a-z]+-[a-z]+-\d{5}", name)
    assert len(codes) == 6
    check(visit, "codes")
    page.get_by_role("button", name="Go on").click()
    assert page.get_by_role("heading", level=1).inner_text() == "Write these down now"  # nothing was ticked
    page.get_by_label("I have written them down").check()
    page.get_by_role("button", name="Go on").click()
    assert page.get_by_role("heading", level=1).inner_text() == "My wears"
    page.get_by_role("link", name="Account").click()
    check(visit, "account")
    for link, picture in (
        ("What you agreed to", "agreed"),
        ("Whose wears you keep", "wearers"),
        ("Take your data along", "my-data"),
        ("Close the account", "close"),
    ):
        page.get_by_role("link", name=link).click()
        check(visit, picture)
        page.get_by_role("main").get_by_role("link", name="Account", exact=True).click()
    page.get_by_role("button", name="Sign out", exact=True).click()
    page.get_by_role("navigation").get_by_role("link", name="Sign in").click()
    check(visit, "sign-in")
    page.get_by_role("link", name="I have lost my password").click()
    check(visit, "recover")
    page.get_by_label("Sign-in name").fill(name)
    page.get_by_label("One of your recovery codes").fill(codes[3])
    page.get_by_label("New password").fill("other ordinary words here")
    page.get_by_role("button", name="Set it and sign in").click()
    assert page.get_by_role("status").inner_text().startswith("Your new password holds")


def test_an_authenticator_app_is_offered(visit):
    visit.open("/join/")
    join(visit.page)
    visit.open("/account/authenticator/")
    visit.page.get_by_label("Your present password", exact=True).fill(PASSWORD)
    visit.page.get_by_role("button", name="Set it up").click()
    assert visit.page.locator(".qr svg").bounding_box()["width"] > 150
    check(visit, "authenticator")


def test_what_is_wrong_stands_beside_its_field_and_what_was_typed_can_be_seen(visit):
    page = visit.page
    visit.open("/join/")
    field = page.get_by_label("Password", exact=True)
    field.fill("short")
    page.get_by_role("button", name="Show what I type").click()
    assert field.get_attribute("type") == "text"
    page.get_by_role("button", name="Agree and join").click()
    assert page.get_by_role("alert").is_visible()
    assert page.get_by_label("Keep my wears").get_attribute("aria-invalid") == "true"
    check(visit, "join-faults")
    assert "422" in visit.complaints.pop()  # the browser tells of the status, and of nothing else
