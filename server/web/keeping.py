"""Pages of editions are kept ready. An edition never changes, so its page is drawn once a process and then handed out.

Kept under the digest of the edition, the address, the reader's unit and language, the notices that stand and the
catalogue's state. Only what anybody may read is kept: somebody with a session, and any group that is not public, get
their page drawn for them.
"""

import hashlib
import time
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from functools import wraps
from threading import Lock
from typing import Any, Final

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.utils.cache import get_conditional_response
from django.utils.translation import get_language

from server.core.notices import standing_notices
from server.core.selectors import catalogue_state
from server.editions.public import public_sha256
from server.web.units import unit_of

View = Callable[..., HttpResponse]

MOST_PAGES: Final = 256
ASK_AGAIN: Final = "public, no-cache"


@dataclass(frozen=True, slots=True)
class Kept:
    """A page as it was drawn, and the entity tag of its bytes."""

    content: bytes
    etag: str


class Shelf:
    """The pages asked for last; the one that nobody has asked for longest makes room."""

    def __init__(self, most: int) -> None:
        self._most, self._lock = most, Lock()
        self._pages: OrderedDict[Hashable, Any] = OrderedDict()

    def get(self, key: Hashable) -> Any:
        with self._lock:
            if key in self._pages:
                self._pages.move_to_end(key)
            return self._pages.get(key)

    def put(self, key: Hashable, page: Any) -> None:
        with self._lock:
            self._pages[key] = page
            self._pages.move_to_end(key)
            while len(self._pages) > self._most:
                self._pages.popitem(last=False)

    def clear(self) -> None:
        with self._lock:
            self._pages.clear()


_PAGES, _STANDING = Shelf(MOST_PAGES), Shelf(MOST_PAGES)


def forget() -> None:
    """Begin with nothing kept."""
    _PAGES.clear()
    _STANDING.clear()


def kept(view: View) -> Callable[..., HttpResponseBase]:
    """Keep what a view of an edition draws; it takes a group's slug and, unless the newest is meant, a number."""

    @wraps(view)
    def answer(request: HttpRequest, slug: str, **rest: Any) -> HttpResponseBase:
        standing = None
        if settings.SESSION_COOKIE_NAME not in request.COOKIES:
            standing = _standing(slug, rest.get("number", "latest"))
        if standing is None:
            return view(request, slug, **rest)
        key = (standing, request.path, request.META.get("QUERY_STRING", ""), unit_of(request), get_language())
        page = _PAGES.get(key)
        if page is None:
            response = view(request, slug, **rest)
            if response.status_code != 200 or response.has_header("Cache-Control"):
                return response
            page = Kept(response.content, f'"{hashlib.sha256(response.content).hexdigest()}"')
            _PAGES.put(key, page)
        return _as_asked(request, page)

    return answer


def _standing(slug: str, number: Any) -> Hashable:
    """What makes a public edition's page what it is, asked of the database at most once a moment."""
    now = time.monotonic()
    known = _STANDING.get((slug, number))
    if known is not None and now - known[0] < settings.EDITION_LOOKUP_S:
        return known[1]  # type: ignore[no-any-return]
    sha256 = public_sha256(slug, number)
    standing = None
    if sha256 is not None:
        standing = sha256, tuple(notice.pk for notice in standing_notices()), catalogue_state()
    _STANDING.put((slug, number), (now, standing))
    return standing


def _as_asked(request: HttpRequest, page: Kept) -> HttpResponseBase:
    response = HttpResponse(page.content)
    response["ETag"] = page.etag
    response["Cache-Control"] = ASK_AGAIN
    response["Vary"] = "Cookie, Accept-Language"
    if "HTTP_IF_NONE_MATCH" not in request.META:
        return response
    return get_conditional_response(request, etag=page.etag, response=response) or response
