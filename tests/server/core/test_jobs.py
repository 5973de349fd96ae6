from uuid import UUID

import pytest

from server.core import jobs


def one(_subject: UUID) -> None: ...


def other(_subject: UUID) -> None: ...


def test_a_kind_has_one_handler(monkeypatch):
    monkeypatch.setattr(jobs, "_handlers", {})
    jobs.register("a kind", one)
    jobs.register("a kind", one)
    with pytest.raises(RuntimeError, match="two handlers"):
        jobs.register("a kind", other)
    assert jobs.handlers() == {"a kind": one}


def test_a_sweeper_has_a_name_of_its_own(monkeypatch):
    monkeypatch.setattr(jobs, "_sweepers", {})
    jobs.register_sweep("a part", one)
    with pytest.raises(RuntimeError, match="two sweepers"):
        jobs.register_sweep("a part", other)
    assert jobs.sweepers() == {"a part": one}
