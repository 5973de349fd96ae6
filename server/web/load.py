"""Too much at once: what finds neither room nor a place in a short line is told to come back, without a database.

A browser asks for all pictures of a page at once, so a few requests may wait for room. A longer line would help nobody:
whoever waits longest has gone by the time of the answer. `web` has threads for the line and a few beside it, so that
somebody is there to say so (server/core/management/commands/web.py).
"""

from collections.abc import Callable
from functools import lru_cache
from threading import Semaphore

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string
from django.utils import translation

from server.core.errors import Busy
from server.core.problems import answer_of, headers_of
from server.web.saying import caution

RETRY_AFTER_S = 5
# What a supervisor and a monitoring program ask; files of pages never come this far.
ALWAYS = ("/health/", "/metrics")


def turn_away(answer: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """Answer as many requests at a time as there is room for in this process, let a few wait, and refuse the others."""
    room, place = Semaphore(settings.MOST_REQUESTS), Semaphore(settings.MOST_REQUESTS + settings.MOST_IN_LINE)

    def middleware(request: HttpRequest) -> HttpResponse:
        if request.path.startswith(ALWAYS):
            return answer(request)
        if not place.acquire(blocking=False):
            return come_back(request)
        try:
            with room:
                return answer(request)
        finally:
            place.release()

    return middleware


def come_back(request: HttpRequest) -> HttpResponse:
    """Problem details for programs, and for readers a page in words."""
    busy = Busy("More requests are under way than can be answered. Nothing was done.", retry_after_s=RETRY_AFTER_S)
    if request.path.startswith("/api/"):
        return answer_of(busy)
    page = _page(translation.get_language_from_request(request))
    return HttpResponse(page, status=busy.status, headers=headers_of(busy))


@lru_cache(maxsize=len(settings.LANGUAGES))
def _page(language: str) -> str:
    """The page in a language; it names nobody, and so is the same for all."""
    with translation.override(language):
        return render_to_string("errors/busy.html", {"wait_s": RETRY_AFTER_S, "caution": caution()})
