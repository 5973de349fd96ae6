"""Too much at once: what finds no room is told to come back, at once and without a look at the database.

Waiting in line would help nobody: whoever waits longest has gone by the time of the answer, and the line grows. `web`
keeps a few threads beside the room, so that somebody is there to say so (server/core/management/commands/web.py).
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
    """Answer as many requests at a time as there is room for in this process, and tell the others to come back."""
    room = Semaphore(settings.MOST_REQUESTS)

    def middleware(request: HttpRequest) -> HttpResponse:
        if request.path.startswith(ALWAYS):
            return answer(request)
        if not room.acquire(blocking=False):
            return _come_back(request)
        try:
            return answer(request)
        finally:
            room.release()

    return middleware


def _come_back(request: HttpRequest) -> HttpResponse:
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
