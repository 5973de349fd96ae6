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
    from tests.server.editions.village import Village

# A small application of its own, started by a test in processes of their own.
collect_ignore = ["midfit"]
FIRST = date(2031, 3, 1)
LONG_AGO = date(2031, 1, 5)
ARM, THIGH, FLANK = "upper_arm.back", "thigh.front", "abdomen.flank"


@dataclass
class Pool:
    """The cast of the pool and what they can do; every wear gets readings of its own."""

    clock: Any
    new_member: Callable[[], Any]
    give: Callable[..., Wear]
    group: Any
    moderator: Any
    run_due_jobs: Callable[[], int]
    crowd: list[Any] = field(default_factory=list)
    seeds: Any = field(default_factory=lambda: count(1))

    @property
    def everyone(self) -> Any:
        from server.groups.selectors import everyone

        return everyone()

    def members(self, n: int, *, joined: date = LONG_AGO) -> list[Any]:
        from server.groups.services import join_group

        today = date.fromisoformat(self.clock.file.read_text())
        self.clock.set(joined)
        members = [self.new_member() for _ in range(n)]
        for member in members:
            join_group(self.group, account=member.account)
        self.clock.set(today)
        return members

    def wear(self, member: Any, *, site: str = THIGH, group: Any = None, **changes: Any) -> Wear:
        """A wear given to the pool's group, or to the one named, and approved there."""
        from server.curation.services import approve_wear

        group = group or self.group
        wear = self.give(member, to=group, **{"site": site, "seed": next(self.seeds), **changes})
        approve_wear(group, wear.pk, by=self.moderator.account)
        return wear

    def wears(self, members: Sequence[Any], *sites: str) -> list[Wear]:
        return [self.wear(member, site=site) for site in sites for member in members]

    def found(self, slug: str, *, feeds_everyone: bool = True) -> Any:
        """Another public group of the same moderator."""
        from server.groups.services import found_group

        return found_group(
            founder=self.moderator.account,
            slug=slug,
            name=slug.capitalize(),
            public=True,
            feeds_everyone=feeds_everyone,
            wearers="mixed",
        )

    def wears_in(self, group: Any, n: int, site: str) -> list[Wear]:
        """Approved wears of `n` new members of another group."""
        home, self.group = self.group, group
        members = self.members(n)
        self.group = home
        return [self.wear(member, site=site, group=group) for member in members]

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
    tmp_path: Any,
    monkeypatch: pytest.MonkeyPatch,
    new_member: Any,
    give: Any,
    group: Any,
    moderator: Any,
    run_due_jobs: Any,
) -> Pool:
    from server.editions import fitting

    settings.FIRST_CUT_OFF = FIRST
    # What a sweep of one test writes down is no news from the future to the next one.
    settings.ERASURE_JOURNAL = tmp_path / "erasures.journal"
    # Fewer draws: these tests are about bytes and promises, not about precision.
    monkeypatch.setattr(fitting, "FIT_RULES", replace(fitting.FIT_RULES, draws=200))
    return Pool(clock, new_member, give, group, moderator, run_due_jobs)


@pytest.fixture
def second_moderator(new_member: Callable[[], Any], group: Any) -> Any:
    """Moderates `group` too."""
    from server.groups.services import appoint_moderator

    member = new_member()
    appoint_moderator(group, account=member.account)
    return member


@pytest.fixture
def two_people(group: Any, moderator: Any) -> None:
    """The rules of `group` ask for a second moderator."""
    from server.groups.services import change_protocol

    change_protocol(group, by=moderator.account, two_person_publishing=True)


@pytest.fixture
def signing_key(settings: Any, tmp_path: Any) -> str:
    """The server signs; the public half of its key."""
    from server.editions.signing import make_key

    settings.SIGNING_KEY_FILE = tmp_path / "keys" / "signing-key.pem"
    return make_key()


@pytest.fixture
def sealed(pool: Pool) -> Pool:
    """Six people with a wear at each of two sites, sealed at the first cut-off."""
    pool.crowd = pool.members(6)
    pool.wears(pool.crowd, THIGH, FLANK)
    pool.cut_off(1)
    return pool


@pytest.fixture
def village(db: None, clock: Any, settings: Any, monkeypatch: pytest.MonkeyPatch) -> Village:
    """People of many habits, with wears in two slots that have not been counted yet."""
    from server.editions import fitting
    from tests.server.editions.village import STORY, settle

    settings.FIRST_CUT_OFF = STORY.first_cut_off
    monkeypatch.setattr(fitting, "FIT_RULES", replace(fitting.FIT_RULES, draws=200))
    return settle(clock.set)
