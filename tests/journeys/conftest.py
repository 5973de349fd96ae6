"""A real browser: the system's Chromium, driven by Playwright. Nothing is fetched from outside."""

import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Error, Page, sync_playwright

from tests.server.conftest import catalogue, edition, give, upload  # noqa: F401  (what readers read, and wears)
from tests.server.editions.conftest import pool  # noqa: F401

ARTEFACTS = Path("test-artefacts")
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
OPTIONS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update"]


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    # Playwright keeps an event loop in this thread, and Django would refuse to use the database beside one.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    if CHROMIUM is None:
        pytest.fail("the journeys need Chromium; on Debian: apt-get install chromium")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=OPTIONS)
        yield browser
        browser.close()


@dataclass
class Visit:
    """One visitor at one page, and everything that went wrong or went elsewhere while they looked around."""

    page: Page
    address: str
    complaints: list[str] = field(default_factory=list)
    elsewhere: list[str] = field(default_factory=list)

    def open(self, path: str) -> None:
        self.page.goto(self.address + path)

    def keep_picture(self, name: str) -> None:
        ARTEFACTS.mkdir(exist_ok=True)
        self._picture(f"{name}-top.png")
        self._picture(f"{name}.png", full_page=True)

    def _picture(self, name: str, *, full_page: bool = False, tries: int = 4) -> None:
        """A browser on a busy machine now and then has no frame ready to hand over; the next one will do."""
        for left in reversed(range(tries)):
            try:
                self.page.screenshot(path=ARTEFACTS / name, full_page=full_page)
                return
            except Error as error:
                if "Unable to capture screenshot" not in str(error) or left == 0:
                    raise
                self.page.wait_for_timeout(250)


WIDTHS = pytest.fixture(params=[1100, 360], ids=["wide", "phone"])


@WIDTHS
def visit(request, browser, live_server, edition, settings) -> Iterator[Visit]:  # noqa: F811
    yield from _visit(request.param, browser, live_server, settings)


@WIDTHS
def first_visit(request, browser, live_server, settings) -> Iterator[Visit]:
    """The same to a service that has published nothing yet."""
    yield from _visit(request.param, browser, live_server, settings)


def _visit(width, browser, live_server, settings) -> Iterator[Visit]:
    settings.ALLOWED_HOSTS = ["localhost", "127.0.0.1"]
    page = browser.new_page(viewport={"width": width, "height": 1000})
    visit = Visit(page, live_server.url)
    page.on("console", lambda message: visit.complaints.append(message.text))
    page.on("pageerror", lambda error: visit.complaints.append(str(error)))
    page.on("request", lambda sent: sent.url.startswith(live_server.url) or visit.elsewhere.append(sent.url))
    yield visit
    page.close()
    assert visit.complaints == []
    assert visit.elsewhere == []
