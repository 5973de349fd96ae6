"""A worker is killed in the middle of a fit: the edition comes out all the same, byte for byte."""

import hashlib
import json
import os
import signal
from pathlib import Path

import pytest

from server.demo.client import Visitor
from tests.server.editions.midfit import NOTE
from tests.server.editions.village import SLUG, STORY
from tests.server.running import Service, wait_until

DRAFTS = f"/api/v1/groups/{SLUG}/drafts/"


@pytest.fixture
def service(tmp_path_factory, database):
    place = tmp_path_factory.mktemp("kill")
    day = place / "day"
    day.write_text(STORY.founded_on.isoformat())
    prepared = Service(
        place,
        database,
        settings="tests.server.editions.midfit.settings",
        COMMONWEAR_DEMO="yes",
        COMMONWEAR_CLOCK_FILE=str(day),
        COMMONWEAR_FIRST_CUT_OFF=STORY.first_cut_off.isoformat(),
    )
    yield prepared
    if prepared.process is not None:
        prepared.stop()


def test_a_worker_killed_in_the_middle_of_a_fit_changes_no_byte(service):
    seed = json.loads(
        service.python("-m", "tests.server.editions.midfit.seed", DJANGO_SETTINGS_MODULE="server.settings")
    )
    service.start()
    wait_until(service.answers)
    moderator = Visitor(service.address).signed_in(seed["moderator"], STORY.password)
    draft = moderator.post(DRAFTS, expect=202).json
    address = f"{DRAFTS}{draft['id']}/"

    note = service.place / NOTE
    wait_until(note.exists)
    at_work, worker = int(note.read_text()), service.part("worker")
    assert Path(f"/proc/{at_work}").exists()
    assert moderator.get(address).json["state"] == "fitting"
    for process in (at_work, worker):
        os.kill(process, signal.SIGKILL)

    wait_until(lambda: moderator.get(address).json["state"] != "fitting")
    finished = moderator.get(address).json
    assert (finished["state"], finished["reasons"]) == ("ready", [])
    assert service.part("worker") != worker
    assert len([job for job in service.jobs() if job.endswith(":done:2")]) >= 1, "one part was begun twice"
    published = moderator.post(f"{address}publish/").json
    edition = Visitor(service.address).get(f"/api/v1/groups/{SLUG}/editions/1/").content
    assert published["sha256"] == hashlib.sha256(edition).hexdigest() == seed["sha256"]
