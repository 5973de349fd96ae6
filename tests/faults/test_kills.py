"""A slice of `python -m tests.faults`: one kill of each kind, a broker that is away, a database that is slow."""

import threading
import time

import httpx
import psycopg

from server.editions.calendar import cut_off_of
from tests.faults.clients import Moderator, send_all
from tests.faults.machines import Size, machines
from tests.faults.run import FIRST_CUT_OFF, FOUNDED_ON, Outcome, Plan, Story, run

SMALL = Size(processes=1, durable=False)
SLOW_S = 1.5


def test_after_a_kill_of_each_kind_nothing_is_lost_or_twice_and_the_edition_is_the_same():
    outcome = run(Plan(30, n_editions=1, n_kills=5, n_people=14, seed=5, size=SMALL))
    assert outcome.kills == dict.fromkeys(("web", "worker", "broker", "database", "sweep"), 1)
    assert (outcome.n_acknowledged, outcome.n_lost, outcome.n_beyond, outcome.n_counted_twice) == (30, 0, 0, 0)
    assert outcome.n_counted > 0
    assert outcome.differing == []
    assert set(outcome.jobs) == {"done"}
    assert outcome.is_clean


def test_without_a_broker_work_waits_and_a_slow_database_only_takes_time():
    plan, day = Plan(10, n_editions=1, n_kills=0, n_people=8, seed=6, size=SMALL), FOUNDED_ON.isoformat()
    with machines(SMALL, first_cut_off=FIRST_CUT_OFF.isoformat(), day=day) as on:
        story = Story(plan, on, Outcome(plan), lambda _: None)
        (uploads,) = story.begin()
        on.set_day(cut_off_of(1, first=FIRST_CUT_OFF).isoformat())
        tokens = story.tokens()

        on.take_down("broker")
        assert len(send_all(uploads[:-1], story.caller, tokens, n_at_once=2)) == len(uploads) - 1
        moderator = Moderator(story.caller, tokens[""])
        address = moderator.drafted(1)
        on.let_up("broker")
        assert moderator.finished(address)["state"] == "ready"

        with psycopg.connect(on.database_url) as slow:
            slow.execute("LOCK TABLE wears_wear IN EXCLUSIVE MODE")
            upload = threading.Thread(target=uploads[-1].send, args=(story.caller, tokens[uploads[-1].member]))
            upload.start()
            until = time.monotonic() + SLOW_S
            while time.monotonic() < until:
                assert httpx.get(f"{on.addresses[0]}/health/live", timeout=30, verify=False).status_code == 200
            own = {"Authorization": f"Bearer {tokens[uploads[-1].member]}", "Idempotency-Key": "another"}
            address = f"{on.addresses[0]}/api/v1/wears/"
            waited = httpx.post(address, json=uploads[-1].record, headers=own, timeout=60, verify=False)
            assert (waited.status_code, waited.json()["code"]) == (503, "busy")
            assert upload.is_alive()
        upload.join()
        with psycopg.connect(on.database_url) as database:
            (n_kept,) = database.execute("SELECT count(*) FROM wears_wear").fetchone()
        assert n_kept == len(uploads)
