"""Fourteen invented people, two sites, two sensor models; accounts, wears and decisions go through the services."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
from django.db import transaction
from django.test.utils import override_settings

from pooling.simulate import DEMO_MODELS, Community, GroupPlan, SimulatedWear, simulate_community
from server.core.models import Job
from server.core.services import run_job
from server.demo.community import Loaded, approve_everything, load_people, load_wears
from server.demo.scenario import GroupScenario, Scenario
from server.editions.admission import run_cut_off
from server.editions.calendar import cut_off_of
from server.editions.services import publish_draft, start_draft
from server.groups.selectors import everyone
from tests.server.releasing import release_all

SITES = ("thigh.front", "abdomen.flank")
MODELS = tuple(replace(model, share=0.5) for model in DEMO_MODELS[:2])
SLUG = "harbour"
STORY = Scenario(
    seed=20310301,
    first_cut_off=date(2031, 3, 1),
    founded_on=date(2031, 1, 5),
    password="four ordinary words here",
    groups=(GroupScenario(SLUG, "Harbour", "An invented group.", public=True, people=14),),
    planted_site="calf",
    planted_model="demo-c15",
)


def invent() -> Community:
    """The same people and the same readings every time."""
    return simulate_community(
        np.random.default_rng(STORY.seed),
        groups=[GroupPlan(SLUG, STORY.groups[0].people)],
        sites=SITES,
        sensor_models=MODELS,
        slots=2,
        wears_per_person=6.0,
    )


@dataclass
class Village:
    """The people, and the calendar they live by."""

    loaded: Loaded
    community: Community
    set_day: Callable[[date], None]

    @property
    def group(self) -> Any:
        return self.loaded.groups[SLUG]

    @property
    def moderator(self) -> Any:
        return self.loaded.curators[SLUG]

    @property
    def everyone(self) -> Any:
        return everyone()

    def bring_wears(self, slot: int) -> None:
        """The wears of a slot come in and are approved, ten days before they are counted."""
        self.set_day(cut_off_of(slot, first=STORY.first_cut_off) - timedelta(days=10))
        self._bring([wear for wear in self.community.wears if wear.slot == slot])

    def bring_wear(self, record: dict[str, Any], *, person: str) -> None:
        """One wear more of somebody, approved."""
        self._bring([SimulatedWear(person, f"{person}/self", SLUG, 0, record)])

    def publish(self) -> Any:
        """The edition of the latest cut-off, from a draft made here."""
        draft = start_draft(self.group, by=self.moderator)
        while (job := Job.objects.filter(state=Job.State.DUE).first()) is not None:
            run_job(job.pk)
        return publish_draft(self.group, draft.pk, by=self.moderator)

    def _bring(self, wears: Sequence[SimulatedWear]) -> None:
        load_wears(self.loaded, wears)
        release_all()
        approve_everything(self.loaded)

    def cut_off(self, slot: int, **given: bytes) -> None:
        self.set_day(cut_off_of(slot, first=STORY.first_cut_off))
        run_cut_off(slot, **given)


@contextmanager
def standing_village(unblocked: Any, place: Path) -> Iterator[Village]:
    """A village that the tests of a whole module look at; what one of them changes in the database is undone."""
    today = place / "today"
    world = override_settings(
        CLOCK_FILE=today, FIRST_CUT_OFF=STORY.first_cut_off, ERASURE_JOURNAL=place / "journal-of-this-village"
    )
    with unblocked, world, transaction.atomic():
        yield settle(lambda day: today.write_text(day.isoformat()))
        transaction.set_rollback(True)


def settle(set_day: Callable[[date], None]) -> Village:
    """Everybody joins, long before the first cut-off."""
    set_day(STORY.founded_on)
    community = invent()
    return Village(load_people(STORY, community, lambda _: None), community, set_day)
