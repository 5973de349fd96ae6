"""A slice of what `python -m tests.contract` does, and that it would see an answer that is not described."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from rest_framework.response import Response

from server.api.members import Notices
from tests.contract import calls
from tests.contract.world import FIRST_CUT_OFF, World, founded

pytestmark = pytest.mark.django_db


@pytest.fixture
def world(settings: Any, clock: Any, tmp_path: Path) -> Iterator[World]:
    settings.FIRST_CUT_OFF = FIRST_CUT_OFF
    settings.SIGNING_KEY_FILE = tmp_path / "signing-key.pem"
    with calls.undone():
        yield founded()


def test_every_call_by_itself_answers_as_described(world):
    seen = calls.Seen()
    calls.one_by_one(calls.loaded(), world, seen, n_examples=3, seed=1)
    assert "\n\n".join(seen.complaints.values()) == ""
    assert seen.n_calls >= 200


def test_calls_that_follow_from_one_another_answer_as_described(world):
    seen = calls.Seen()
    calls.in_chains(calls.loaded(), world, seen, n_examples=4, seed=1)
    assert "\n\n".join(seen.complaints.values()) == ""
    assert seen.n_calls >= 50


def _broken(*_: Any) -> Response:
    raise ValueError("something of ours")


@pytest.mark.parametrize(
    ("answer", "complaint"),
    [
        (lambda *_: Response({"notices": []}, 226), "Undocumented status code (226)"),
        (lambda *_: Response({"notices": [], "more": 1}), "Response violates schema (200)"),
        (lambda *_: Response({"notices": []}, content_type="text/plain"), "Undocumented Content-Type (200)"),
        (_broken, "Server error (500)"),
    ],
)
def test_an_answer_that_is_not_described_is_seen(
    world: World, monkeypatch: pytest.MonkeyPatch, answer: Callable[..., Response], complaint: str
) -> None:
    seen, schema = calls.Seen(), calls.loaded().include(path="/api/v1/notices/")
    monkeypatch.setattr(Notices, "get", answer)
    calls.one_by_one(schema, world, seen, n_examples=2, seed=1)
    assert ("GET /api/v1/notices/", complaint) in seen.complaints
