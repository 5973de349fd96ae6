"""A service that signs in as an account that owns nothing does all of its work, and gets no further than that."""

import psycopg
import pytest

from server.editions.calendar import cut_off_of
from tests.faults.clients import Moderator
from tests.faults.machines import Size, machines, told
from tests.faults.run import FIRST_CUT_OFF, FOUNDED_ON, Outcome, Plan, Story
from tests.faults.steward import GROUP

SMALL = Size(processes=1, durable=False)
HARM = (
    "DROP TABLE curation_decision",
    "TRUNCATE wears_wear",
    "ALTER TABLE wears_wear DROP COLUMN header",
    "CREATE TABLE own (id int)",
    "UPDATE editions_edition SET sha256 = ''",
    "DELETE FROM curation_decision",
    "DELETE FROM editions_spentmarks",
    "UPDATE core_sensormodel SET open = false",
)


def test_a_service_does_its_work_as_one_who_owns_nothing(tmp_path):
    plan, day = Plan(30, n_editions=1, n_kills=0, n_people=14, seed=5, size=SMALL), FOUNDED_ON.isoformat()
    with machines(SMALL, first_cut_off=FIRST_CUT_OFF.isoformat(), day=day, seed=5) as on:
        story = Story(plan, on, Outcome(plan), lambda _: None)
        (uploads,) = story.begin()
        token, _ = story.bring(1, uploads)
        on.set_day(cut_off_of(1, first=FIRST_CUT_OFF).isoformat())
        assert Moderator(story.caller, token).publish(1)
        _take_edition_back(story, token)
        n_before = len(told(story.steward("state"))["wears"])
        _erase(story, uploads[0].member, story.acknowledged[uploads[0].key])
        _close(story, uploads[-1].member)
        state = told(story.steward("state"))
        assert len(state["wears"]) < n_before - 1
        assert set(state["jobs"]) == {"done"}

        _no_further(on)
        copy = str(tmp_path / "copy.backup")
        key = {"COMMONWEAR_BACKUP_KEY_FILE": str(tmp_path / "backup-key")}
        on.python("-m", "server", "backup", copy, DATABASE_URL=on.signed_in("commonwear_backup"), **key)
        with pytest.raises(RuntimeError, match="the account that owns them"):
            on.python("-m", "server", "sweep")
        said = on.python("-m", "server", "sweep", DATABASE_URL=on.database_url)
        assert "what was erased is out of the tables" in said
        assert "segments of the write-ahead log" in said
        with psycopg.connect(on.database_url) as owner:
            assert owner.execute("SELECT count(*) FROM core_erasure WHERE NOT settled").fetchone() == (0,)

        there = _empty_database(on)
        assert "Restored" in on.python("-m", "server", "restore", copy, DATABASE_URL=there("commonwear_owner"), **key)
        with psycopg.connect(there("commonwear_service")) as service:
            assert service.execute("SELECT count(*) FROM wears_wear").fetchone() == (len(state["wears"]),)
            with pytest.raises(psycopg.errors.InsufficientPrivilege):
                service.execute("DELETE FROM editions_edition")


def _take_edition_back(story, token):
    address = f"/api/v1/groups/{GROUP}/editions/1/retraction/"
    answer = story.caller.call("POST", address, token=token, json={"reason": "wrong_data"})
    assert answer.status_code == 201, answer.text


def _erase(story, member, wear):
    answer = story.caller.call("DELETE", f"/api/v1/wears/{wear}/", token=story.tokens()[member])
    assert answer.status_code == 204, answer.text


def _close(story, member):
    answer = story.caller.call("DELETE", "/api/v1/me/", token=story.tokens()[member])
    assert answer.status_code == 204, answer.text


def _no_further(on):
    for account in ("commonwear_service", "commonwear_backup"):
        with psycopg.connect(on.signed_in(account), autocommit=True) as own:
            assert own.execute("SELECT rolsuper FROM pg_roles WHERE rolname = current_user").fetchone() == (False,)
            for statement in HARM:
                with pytest.raises(psycopg.errors.InsufficientPrivilege):
                    own.execute(statement)
        with pytest.raises(psycopg.OperationalError, match="permission denied for database"):
            psycopg.connect(on.signed_in(account, database="postgres"))
    with pytest.raises(psycopg.OperationalError, match="not permitted to log in"):
        psycopg.connect(on.signed_in("commonwear_figures"))


def _empty_database(on):
    with psycopg.connect(on.signed_in("postgres", database="postgres"), autocommit=True) as administrator:
        administrator.execute("CREATE DATABASE restored OWNER commonwear_owner")
    return lambda account: on.signed_in(account, database="restored")
