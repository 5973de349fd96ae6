"""Every link is followed once, wherever it stands, and one that leads nowhere is said."""

import pytest

from server.demo.client import Answer, Unexpected
from server.demo.links import addresses_in, follow_links

HTML = {"Content-Type": "text/html; charset=utf-8"}
PAGES = {
    "/": '<link rel="icon" href="/icon.svg"><a href="/groups/one/?a=1&amp;b=2">One</a><a href="#main">skip</a>',
    "/icon.svg": None,
    "/groups/one/?a=1&b=2": '<a href="editions/1/">old</a><a href="editions/2/#top">new</a><a href="/">home</a>',
    "/groups/one/editions/2/": '<img src="charts/sites.svg"><a href="https://elsewhere.example/">elsewhere</a>',
    "/groups/one/editions/2/charts/sites.svg": None,
}


class Reader:
    def __init__(self, pages):
        self.pages, self.asked = pages, []

    def get(self, path):
        self.asked.append(path)
        if path not in self.pages:
            raise Unexpected(path)
        page = self.pages[path]
        return Answer(200, (page or "").encode(), HTML if page else {"content-type": "image/svg+xml"})


def test_every_link_is_followed_once_and_older_editions_are_left():
    reader = Reader(PAGES)
    assert follow_links(reader, edition=2) == len(PAGES)
    assert sorted(reader.asked) == sorted(PAGES)


def test_a_link_that_leads_nowhere_is_said():
    with pytest.raises(Unexpected, match="editions/2/charts"):
        follow_links(Reader({path: page for path, page in PAGES.items() if "charts" not in path}), edition=2)


def test_addresses_of_others_and_places_within_a_page_are_none_of_ours():
    assert addresses_in('<a href="https://elsewhere.example/">x</a><a href="/a/#b">y</a>', "/c/") == {"/a/"}
