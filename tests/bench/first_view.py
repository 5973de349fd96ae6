"""What a reader's browser is sent before it shows the page of a site, and how soon it paints it.

The browser is Chromium, the service answers over HTTP from a thread of this process, and each view begins with nothing
kept.
"""

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from socketserver import ThreadingMixIn
from threading import Thread
from typing import Any
from wsgiref.simple_server import WSGIRequestHandler, WSGIServer, make_server

from tests.bench.pages import BARE, SITE, service
from tests.bench.runner import bench

MOST_BYTES, MOST_REQUESTS, VIEWS = 150_000, 6, 9
WIDE = {"width": 1100, "height": 1000}
PAINTED = """() => new Promise((tell) => new PerformanceObserver((list) => tell(list.getEntries()[0].startTime))
  .observe({type: "paint", buffered: true}))"""


@dataclass
class Sent:
    """What went over the wire for one view."""

    n_bytes: float = 0
    n_requests: int = 0


class _Threads(ThreadingMixIn, WSGIServer):
    daemon_threads = True


class _Quiet(WSGIRequestHandler):
    def log_message(self, *_: Any) -> None:
        """Say nothing: the table of the benches is what is read."""


def _plain(page: bytes) -> bytes:
    """As many bytes of words, without a style sheet, a picture or a table."""
    head = b"<!doctype html><title>plain</title><p>"
    return head + (b"word " * len(page))[: len(page) - len(head)]


@contextmanager
def _browsing() -> Iterator[tuple[Any, str]]:
    """A browser, and the address of a service with the page of a site and a plain page of as many bytes."""
    from playwright.sync_api import sync_playwright

    from tests.journeys.conftest import CHROMIUM, OPTIONS

    with tempfile.TemporaryDirectory() as place:
        server = make_server("127.0.0.1", 0, service(place, SITE, bare=_plain), _Threads, _Quiet)
        Thread(target=server.serve_forever, daemon=True).start()
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=CHROMIUM, args=OPTIONS)
            yield browser, f"http://127.0.0.1:{server.server_port}"
            browser.close()
        server.shutdown()
        server.server_close()


def _first_view(browser: Any, address: str) -> tuple[Sent, float]:
    """All that is sent until the view is still, and the milliseconds to the first paint."""
    context = browser.new_context(viewport=WIDE)
    page, sent = context.new_page(), Sent()
    wire = context.new_cdp_session(page)
    wire.send("Network.enable")

    def count(told: dict[str, Any]) -> None:
        sent.n_bytes += told["encodedDataLength"]
        sent.n_requests += 1

    wire.on("Network.loadingFinished", count)
    page.goto(address, wait_until="networkidle")
    painted_ms = page.evaluate(PAINTED)
    context.close()
    return sent, painted_ms


def _sent() -> Sent:
    with _browsing() as (browser, address):
        return _first_view(browser, address + SITE)[0]


@bench("bytes of the first view of a site, the page itself uncompressed: 150,000", bound=1, only_by_name=True)
def first_view_bytes() -> float:
    return _sent().n_bytes / MOST_BYTES


@bench("requests of the first view of a site: 6", bound=1, only_by_name=True)
def first_view_requests() -> float:
    return _sent().n_requests / MOST_REQUESTS


@bench("first paint of a site: that of a plain page of as many bytes", bound=2, only_by_name=True)
def first_paint() -> float:
    with _browsing() as (browser, address):
        views = [[_first_view(browser, address + path)[1] for path in (SITE, BARE)] for _ in range(VIEWS)]
    return min(site for site, _ in views) / min(bare for _, bare in views)
