from concurrent.futures import ThreadPoolExecutor
from threading import Barrier, Event, Semaphore

import pytest
from django.db import OperationalError
from django.http import HttpResponse
from django.test import Client, RequestFactory

from server.core.locks import LOCK_NOT_AVAILABLE
from server.web import load
from server.web.load import RETRY_AFTER_S, turn_away
from server.web.middleware import ErrorsInWords


@pytest.fixture
def full(settings):
    """A client of a process that has room for nobody, nor a line."""
    settings.MOST_REQUESTS = settings.MOST_IN_LINE = 0
    return Client()


def test_a_browser_s_pictures_wait_for_room_and_what_finds_no_place_in_line_is_told_to_come_back(settings, monkeypatch):
    settings.MOST_REQUESTS, settings.MOST_IN_LINE = 2, 3
    asked_for_room = Semaphore(0)

    class Telling(Semaphore):
        def __enter__(self):
            asked_for_room.release()
            return super().__enter__()

    monkeypatch.setattr(load, "Semaphore", Telling)
    all_here, may_go, ask = Barrier(3), Event(), RequestFactory().get

    def slow(request):
        if request.path == "/slow/":
            all_here.wait()
            may_go.wait()
        return HttpResponse(request.path)

    answer = turn_away(slow)
    with ThreadPoolExecutor(5) as hands:
        under_way = [hands.submit(answer, ask("/slow/")) for _ in range(2)]
        all_here.wait()
        in_line = [hands.submit(answer, ask("/picture.svg")) for _ in range(3)]
        for _ in range(5):
            asked_for_room.acquire()
        assert not any(one.done() for one in in_line)
        assert answer(ask("/groups/")).status_code == 503
        assert answer(ask("/health/live")).status_code == 200
        assert answer(ask("/metrics")).status_code == 200
        may_go.set()
        assert [one.result().status_code for one in (*under_way, *in_line)] == [200] * 5
    assert answer(ask("/groups/")).status_code == 200


def test_room_is_given_back_by_what_breaks(settings):
    settings.MOST_REQUESTS = 1

    def broken(request):
        raise ValueError("something of ours")

    answer = turn_away(broken)
    for _ in range(2):
        with pytest.raises(ValueError, match="of ours"):
            answer(RequestFactory().get("/groups/"))


def test_a_program_gets_problem_details_in_english(full):
    refused = full.get("/api/v1/groups/", headers={"Accept-Language": "de"})
    assert (refused.status_code, refused["Retry-After"]) == (503, str(RETRY_AFTER_S))
    assert refused["Content-Type"] == "application/problem+json"
    told = refused.json()
    assert (told["code"], told["detail"]) == (
        "busy",
        "More requests are under way than can be answered. Nothing was done.",
    )
    assert told["caution"]["text"]
    assert "X-Request-ID" in refused


@pytest.mark.parametrize(
    ("language", "heading"), [("en", "Too much is going on just now"), ("de", "Gerade ist zu viel los")]
)
def test_a_reader_gets_a_page_in_words_without_a_look_at_the_database(full, language, heading):
    # No test database is asked for: a query would fail the test.
    refused = full.get("/groups/harbour/", headers={"Accept-Language": language})
    assert (refused.status_code, refused["Retry-After"]) == (503, str(RETRY_AFTER_S))
    assert f"<h1>{heading}</h1>" in refused.content.decode()
    assert f"{RETRY_AFTER_S}" in refused.content.decode()
    assert refused["Cache-Control"] == "no-store"
    assert "default-src 'none'" in refused["Content-Security-Policy"]


def test_health_is_told_whatever_the_load(full):
    assert full.get("/health/live").status_code == 200


@pytest.mark.parametrize(
    ("address", "kind"), [("/api/v1/groups/", "application/problem+json"), ("/groups/meadow/", "text/html")]
)
def test_who_waited_too_long_for_what_somebody_else_holds_is_told_to_come_back(address, kind, rf):
    class GaveUpWaiting(Exception):
        sqlstate = LOCK_NOT_AVAILABLE

    gave_up, broke = OperationalError("canceling statement due to lock timeout"), OperationalError("no such table")
    gave_up.__cause__ = GaveUpWaiting()
    refusing = ErrorsInWords(lambda _: HttpResponse()).process_exception
    refused = refusing(rf.get(address), gave_up)
    assert (refused.status_code, refused["Retry-After"]) == (503, str(RETRY_AFTER_S))
    assert refused["Content-Type"].startswith(kind)
    assert refusing(rf.get(address), broke) is None
