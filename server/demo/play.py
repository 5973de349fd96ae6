"""Play the invented calendar: wears come in, moderators look at them, cut-offs pass, editions are published."""

from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from pooling.simulate import Community
from server.core import clock
from server.demo.client import Visitor, wait_for
from server.demo.community import Loaded, Progress, approve_everything, left_to_decide, load_wears, release
from server.demo.scenario import Scenario
from server.editions.calendar import cut_off_of
from server.editions.models import Slot

SLOTS = 3
TO_MODERATE = "harbour"
EDITION_GROUPS = ("everyone", "harbour", "orchard", "lantern")


@dataclass(frozen=True, slots=True)
class Stage:
    """Where the play is given: the service's address, the file with its date, and the cast."""

    scenario: Scenario
    clock_file: Path
    visitor: Visitor
    loaded: Loaded
    say: Progress

    def set_date(self, day: date) -> None:
        draft = self.clock_file.with_suffix(".new")
        draft.write_text(day.isoformat(), encoding="ascii")
        draft.replace(self.clock_file)

    def cut_off(self, slot: int) -> date:
        return cut_off_of(slot, first=self.scenario.first_cut_off)

    def pass_cut_off(self, slot: int) -> None:
        """Move the date to the cut-off and wait until the running service has sealed it."""
        self.set_date(self.cut_off(slot))
        wait_for(f"cut-off {slot}", lambda: Slot.objects.filter(number=slot).first())

    def pass_release_day(self) -> None:
        """Move on to the next Monday, on which moderators get to see what has come in."""
        self.set_date(clock.today() + timedelta(days=7 - clock.today().weekday()))

    def moderator(self, group: str) -> Visitor:
        return self.visitor.signed_in(self.loaded.curators[group].sign_in_name, self.scenario.password)

    def publish(self, group: str) -> dict[str, Any]:
        """Draft, wait for the workers, and publish: what a moderator does over HTTP."""
        moderator = self.moderator(group)
        started = moderator.post(f"/api/v1/groups/{group}/drafts/", expect=202).json
        path = f"/api/v1/groups/{group}/drafts/{started['id']}/"

        def look() -> dict[str, Any]:
            draft: dict[str, Any] = moderator.get(path).json
            return draft

        def ended() -> dict[str, Any] | None:
            draft = look()
            return draft if draft["state"] not in ("queued", "fitting") else None

        draft = wait_for(f"the draft of {group}", ended, moved=lambda: look()["progress"])
        if draft["state"] != "ready":
            raise RuntimeError(f"the draft of {group} ended as {draft['state']}: {draft['reasons']}")
        published: dict[str, Any] = moderator.post(f"{path}publish/", expect=201).json
        return published


def play(stage: Stage, community: Community) -> None:
    """Three slots: the wears of each come in before its cut-off, and every group publishes after it."""
    for slot in range(1, SLOTS + 1):
        stage.set_date(stage.cut_off(slot) - timedelta(days=10))
        n_wears = load_wears(stage.loaded, [wear for wear in community.wears if wear.slot == slot])
        stage.pass_release_day()
        n_approved = approve_everything(stage.loaded)
        stage.say(f"slot {slot}: {n_wears} wears came in, {n_approved} were approved")
        stage.pass_cut_off(slot)
        for group in EDITION_GROUPS:
            published = stage.publish(group)
            stage.say(f"slot {slot}: {group} published edition {published['number']}, {published['sha256'][:12]}…")


def leave_some(stage: Stage, community: Community) -> None:
    """After the last cut-off more wears come in, and are left for whoever signs in as their moderator."""
    stage.set_date(stage.cut_off(SLOTS) + timedelta(days=2))
    load_wears(stage.loaded, left_to_decide(stage.scenario, community, TO_MODERATE))
    stage.pass_release_day()
    release()
