"""A running service of its own, and members of an invented group who do what members do, over HTTP."""

from __future__ import annotations

import json
import os
import sqlite3
import subprocess
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from server.demo.client import Visitor, wait_for
from tests.server.records import SENSOR_MODEL, raw
from tests.server.running import Service, scratch_database, wait_until

GROUP = "harbour"
PASSWORD = "four ordinary words here"
JOINED, FIRST_CUT_OFF = date(2031, 2, 10), date(2031, 4, 1)
DATABASE_FILE = "commonwear.sqlite3"


@dataclass
class Scene:
    """The service, the file with its date, and a visitor who is nobody in particular."""

    service: Service
    clock: Path
    visitor: Visitor

    def set_day(self, day: date) -> None:
        draft = self.clock.with_suffix(".new")
        draft.write_text(day.isoformat(), encoding="ascii")
        draft.replace(self.clock)

    def join(self) -> Member:
        consent = self.visitor.get("/api/v1/vocabulary/").json["consent"]
        body = {
            "password": PASSWORD,
            "consent_version": consent["text_version"],
            "scopes": {"keep": True, "pool": True},
        }
        name = self.visitor.post("/api/v1/members/", body).json["sign_in_name"]
        return Member(name, self.visitor.signed_in(name, PASSWORD))

    def found_group(self) -> Member:
        moderator = self.join()
        body = {"slug": GROUP, "name": "Harbour", "public": True, "feeds_everyone": True, "wearers": "mixed"}
        moderator.api.post("/api/v1/groups/", body | {"description": "An invented group."})
        return moderator

    def publish(self, moderator: Member) -> None:
        """Draft the edition of the latest cut-off, wait for the workers, publish."""
        drafts = f"/api/v1/groups/{GROUP}/drafts/"
        address = f"{drafts}{moderator.api.post(drafts, expect=202).json['id']}/"
        wait_for("the draft", lambda: moderator.api.get(address).json["state"] == "ready" or None)
        moderator.api.post(f"{address}publish/")

    def edition(self, number: int) -> bytes:
        return self.visitor.get(f"/api/v1/groups/{GROUP}/editions/{number}/").content

    def pass_cut_off(self, day: date, *, n_sealed: int) -> None:
        self.set_day(day)
        wait_for("the cut-off", lambda: self.ask("slots") == n_sealed or None)

    def ask(self, question: str, *words: str) -> Any:
        """What `tests.redteam.inside` says of the service's own database."""
        return json.loads(self.service.python("-m", "tests.redteam.inside", question, *words))

    def sweep(self) -> None:
        """By hand, and again while others are at work on the database, as the operator is told to."""
        wait_until(self._swept)

    def _swept(self) -> bool:
        try:
            return "out of the tables" in self.service.python("-m", "server", "sweep")
        except subprocess.CalledProcessError:
            return False

    def copy_database(self, copy: Path) -> None:
        address = self.service.environment.get("DATABASE_URL")
        if address is None:
            file = self.service.place / DATABASE_FILE
            with closing(sqlite3.connect(file)) as own, closing(sqlite3.connect(copy)) as target:
                own.backup(target)
        else:
            subprocess.run(["pg_dump", "--format=custom", f"--file={copy}", address], check=True)

    def put_copy_back(self, copy: Path) -> None:
        """With the service stopped: the database as it stood when the copy was made."""
        address = self.service.environment.get("DATABASE_URL")
        if address is None:
            for leftover in ("-wal", "-shm"):
                (self.service.place / f"{DATABASE_FILE}{leftover}").unlink(missing_ok=True)
            (self.service.place / DATABASE_FILE).write_bytes(copy.read_bytes())
        else:
            subprocess.run(["pg_restore", "--clean", "--if-exists", f"--dbname={address}", copy], check=True)


@dataclass(frozen=True, slots=True)
class Member:
    sign_in_name: str
    api: Visitor

    def upload(self, **changes: Any) -> str:
        wear: str = self.api.post("/api/v1/wears/", raw(**changes)).json["id"]
        return wear

    def join_group(self) -> None:
        self.api.put(f"/api/v1/groups/{GROUP}/membership/", expect=None)

    def give(self, wear: str) -> None:
        self.api.put(f"/api/v1/wears/{wear}/group/", {"group": GROUP})

    def approve(self, wear: str) -> None:
        self.api.post(f"/api/v1/groups/{GROUP}/curation/{wear}/decision/", {"action": "approve"}, expect=None)


@contextmanager
def staged(place: Path) -> Iterator[Scene]:
    """Start a service with an empty database below `place`, list a sensor model, and stop it in the end."""
    clock = place.with_name(f"{place.name}-day")
    clock.write_text(JOINED.isoformat())
    with scratch_database(os.environ.get("DATABASE_URL")) as database:
        service = Service(
            place,
            database,
            settings="server.settings",
            COMMONWEAR_DEMO="yes",
            COMMONWEAR_CLOCK_FILE=str(clock),
            COMMONWEAR_FIRST_CUT_OFF=FIRST_CUT_OFF.isoformat(),
            COMMONWEAR_ERASURE_JOURNAL=str(place.with_name(f"{place.name}-journal")),
        )
        service.start()
        try:
            wait_until(service.answers)
            service.python("-m", "server", "sensormodel", "add", SENSOR_MODEL, "--rated-life-days", "14")
            yield Scene(service, clock, Visitor(service.address))
        finally:
            service.stop()
