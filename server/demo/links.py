"""Whoever follows every link of the pages that anybody may read comes nowhere in vain."""

import re
from collections import deque
from html import unescape
from typing import Final
from urllib.parse import urldefrag, urljoin

from server.demo.client import Visitor

_NAMED: Final = re.compile(r'<(?:a|link|img|script|source)\b[^>]*?\b(?:href|src|srcset)="([^"]+)"')
_OF_AN_EDITION: Final = re.compile(r"/editions/(\d+)/")


def follow_links(visitor: Visitor, *, edition: int) -> int:
    """Ask for every address that pages name, each once, and count them; of editions, the one named and no others.

    Raises
    ------
    Unexpected
        If an address of this service is not answered with 200.
    """
    found, waiting = {"/"}, deque(["/"])
    while waiting:
        path = waiting.popleft()
        answer = visitor.get(path)
        if {name.lower(): value for name, value in answer.headers.items()}["content-type"].startswith("text/html"):
            new = addresses_in(answer.content.decode(), path) - found
            new = {address for address in new if _OF_AN_EDITION.findall(address) in ([], [str(edition)])}
            found |= new
            waiting.extend(sorted(new))
    return len(found)


def addresses_in(page: str, path: str) -> set[str]:
    """The addresses of this service that a page names, without what they point to within a page."""
    named = {urldefrag(urljoin(path, unescape(link)))[0] for link in _NAMED.findall(page)}
    return {address for address in named if address.startswith("/")}
