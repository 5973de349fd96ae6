"""A small pool: members of long standing, their approved wears, and a calendar whose first cut-off is near."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from itertools import count
from typing import TYPE_CHECKING, Any

import pytest

from server.editions.calendar import cut_off_of

if TYPE_CHECKING:
    from server.wears.models import Wear

FIRST = date(2031, 3, 1)
LONG_AGO = date(2031, 1, 5)
ARM, THIGH, FLANK = "upper_arm.back", "thigh.front", "abdomen.flank"


@dataclass
class Pool:
    """The cast of the pool and what they can do; every wear gets readings of its own."""

    clock: Any
    new_member: Callable[[], Any]
    approve: Callable[..., Wear]
    group: Any
    moderator: Any
    run_due_jobs: Callable[[], int]
    crowd: list[Any] = field(default_factory=list)
    seeds: Any = field(default_factory=lambda: count(1))

    def members(self, n: int, *, joined: date = LONG_AGO) -> list[Any]:
        from server.groups.services import join_group

        today = date.fromisoformat(self.clock.file.read_text())
        self.clock.set(joined)
        members = [self.new_member() for _ in range(n)]
        for member in members:
            join_group(self.group, account=member.account)
        self.clock.set(today)
        return members

    def wear(self, member: Any, *, site: str = THIGH, **changes: Any) -> Wear:
        return self.approve(member, **{"site": site, "seed": next(self.seeds), **changes})

    def wears(self, members: Sequence[Any], *sites: str) -> list[Wear]:
        return [self.wear(member, site=site) for site in sites for member in members]

    def cut_off(self, slot: int, *, slot_key: bytes = b"a key of the test") -> bool:
        from server.editions.admission import run_cut_off

        self.clock.set(cut_off_of(slot, first=FIRST))
        return run_cut_off(slot, slot_key=slot_key)

    def draft(self, group: Any = None) -> Any:
        """Start a draft and let the workers finish it."""
        from server.editions.services import start_draft

        draft = start_draft(group or self.group, by=self.moderator.account)
        self.run_due_jobs()
        draft.refresh_from_db()
        return draft

    def discard(self, draft: Any) -> None:
        from server.editions.services import discard_draft

        discard_draft(draft.group, draft.pk, by=self.moderator.account)


@pytest.fixture
def pool(
    clock: Any,
    settings: Any,
    monkeypatch: pytest.MonkeyPatch,
    new_member: Any,
    approve: Any,
    group: Any,
    moderator: Any,
    run_due_jobs: Any,
) -> Pool:
    from server.editions import fitting

    settings.FIRST_CUT_OFF = FIRST
    # Fewer draws: these tests are about bytes and promises, not about precision.
    monkeypatch.setattr(fitting, "FIT_RULES", replace(fitting.FIT_RULES, draws=200))
    return Pool(clock, new_member, approve, group, moderator, run_due_jobs)


@pytest.fixture
def sealed(pool: Pool) -> Pool:
    """Six people with a wear at each of two sites, sealed at the first cut-off."""
    pool.crowd = pool.members(6)
    pool.wears(pool.crowd, THIGH, FLANK)
    pool.cut_off(1)
    return pool
