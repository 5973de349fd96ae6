"""The calls about editions act on the same small pool as the tests of the app; every answer has to be as described."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from tests.server.editions.conftest import pool, sealed, second_moderator, signing_key, two_people

__all__ = ["pool", "sealed", "second_moderator", "signing_key", "two_people"]


@pytest.fixture(autouse=True)
def _as_described(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Whatever a test of the API asks, the description knows the answer: status, media type, headers and body."""
    from django.test import Client

    from tests.contract.described import complaints_of

    complaints: list[str] = []
    request = Client.request

    def asked(client: Client, **environment: Any) -> Any:
        answer = request(client, **environment)
        complaints.extend(complaints_of(answer))
        return answer

    monkeypatch.setattr(Client, "request", asked)
    yield
    assert complaints == []
