"""The accounts of PostgreSQL: each gets its rights and no others, and what those do not name is refused to it.

The run on PostgreSQL has this file; each test makes the accounts in its own transaction, with which they go again.
"""

from contextlib import contextmanager
from uuid import uuid4

import psycopg
import pytest
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, transaction

from server.core import deletion, doctor, grants, journal
from server.core.models import Erasure

WORD = uuid4().hex[:12]
SERVICE, BACKUP, FIGURES = f"service {WORD}", f"backup {WORD}", f"figures {WORD}"
# What an account that owns nothing could otherwise do harm with.
BEYOND_ANYBODY = (
    "DROP TABLE curation_decision",
    "ALTER TABLE wears_wear ADD COLUMN more text",
    "ALTER TABLE editions_edition DISABLE TRIGGER ALL",
    "TRUNCATE wears_wear",
    "CREATE TABLE own (id int)",
    "CREATE TEMPORARY TABLE own (id int)",
    "CREATE FUNCTION own() RETURNS int LANGUAGE sql AS 'SELECT 1'",
    "CREATE SCHEMA own",
    "CREATE TRIGGER own BEFORE INSERT ON wears_wear EXECUTE FUNCTION suppress_redundant_updates_trigger()",
    "CREATE ROLE own SUPERUSER",
    "ALTER TABLE wears_wear OWNER TO CURRENT_USER",
    "SET SESSION_REPLICATION_ROLE = replica",
    "SELECT pg_read_file('/etc/hostname')",
    "COPY wears_wear TO PROGRAM 'cat'",
    "SELECT rolpassword FROM pg_authid",
    "SELECT pg_switch_wal()",
)
APPEND_ONLY = (
    "UPDATE curation_decision SET code = ''",
    "DELETE FROM curation_decision",
    "UPDATE curation_look SET wear_mark = ''",
    "UPDATE accounts_consent SET given = true",
    "UPDATE editions_edition SET sha256 = ''",
    "DELETE FROM editions_edition",
    "SELECT * FROM editions_edition FOR UPDATE",
    "DELETE FROM editions_spentmarks",
    "UPDATE editions_spentmarks SET first_byte = 0",
    "DELETE FROM editions_sealedrecord",
    "UPDATE editions_sealedrecord SET k = 1",
    "UPDATE editions_place SET record_id = gen_random_uuid()",
    "UPDATE editions_slot SET cut_off = now()",
    "DELETE FROM editions_tieseat",
    "UPDATE groups_protocol SET version = 2",
    "INSERT INTO core_sensormodel (slug) VALUES ('demo-own')",
    "UPDATE core_sensormodel SET open = true",
    "DELETE FROM core_sensormodel",
    "INSERT INTO core_notice (id, text) VALUES (gen_random_uuid(), '')",
    "DELETE FROM django_migrations",
)


@pytest.fixture
def accounts(db, settings):
    settings.SERVICE_ROLE, settings.BACKUP_ROLE, settings.FIT_ROLE = SERVICE, BACKUP, FIGURES
    grants.apply()


@contextmanager
def signed_in(role):
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(f"SET LOCAL ROLE {connection.ops.quote_name(role)}")
        yield cursor
        cursor.execute("RESET ROLE")


def refusal(role, statement):
    """By which of its codes PostgreSQL refuses a statement to this account."""
    try:
        with signed_in(role) as cursor:
            cursor.execute(statement)
    except DatabaseError as error:
        return error.__cause__.sqlstate
    return "not refused"


WANT_OF_A_RIGHT = "42501"


@pytest.mark.parametrize("role", [SERVICE, BACKUP, FIGURES], ids=["service", "backup", "figures"])
@pytest.mark.parametrize("statement", BEYOND_ANYBODY)
def test_nobody_but_the_owner_changes_tables_or_reaches_beyond_them(accounts, role, statement):
    assert refusal(role, statement) == WANT_OF_A_RIGHT


@pytest.mark.parametrize("statement", APPEND_ONLY)
def test_what_is_append_only_the_service_can_only_add_to(accounts, statement):
    assert refusal(SERVICE, statement) == WANT_OF_A_RIGHT


def test_a_copy_is_taken_by_one_who_reads_everything_and_changes_nothing(accounts):
    for table in connection.introspection.table_names():
        with signed_in(BACKUP) as cursor:
            cursor.execute(f'SELECT * FROM "{table}" LIMIT 1')
        for statement in (f'DELETE FROM "{table}"', f'INSERT INTO "{table}" DEFAULT VALUES'):
            assert refusal(BACKUP, statement) == WANT_OF_A_RIGHT, statement
    with signed_in(BACKUP) as cursor:
        cursor.execute("SELECT last_value FROM core_erasure_number_seq")


def test_each_account_has_the_rights_of_the_registers_and_no_others(accounts):
    assert grants.missing_accounts() == []
    assert {role: grants.differing(role) for role in grants.roles()} == dict.fromkeys(
        (SERVICE, BACKUP, FIGURES), ([], [])
    )
    assert list(doctor.accounts_of_the_database()) == []


def test_other_accounts_of_the_same_postgresql_cannot_get_in(accounts):
    with connection.cursor() as cursor:
        cursor.execute("CREATE ROLE stranger_to_it LOGIN")
        cursor.execute(
            "SELECT rolname FROM unnest(%s::text[]) AS rolname "
            "WHERE has_database_privilege(rolname, current_database(), 'CONNECT')",
            [["stranger_to_it", FIGURES, SERVICE, BACKUP]],
        )
        assert [name for (name,) in cursor.fetchall()] == [SERVICE, BACKUP]


# Upgrades


def test_a_table_of_a_later_migration_is_covered_by_the_migrating_itself(accounts):
    with connection.cursor() as cursor:
        cursor.execute(f'REVOKE ALL ON wears_wear FROM "{SERVICE}"')
        cursor.execute(f'GRANT DELETE ON curation_decision TO "{SERVICE}"')
        cursor.execute("CREATE TABLE of_a_later_release (id int)")
    assert grants.differing(SERVICE)[0][0] == "DELETE on wears_wear"
    assert grants.differing(SERVICE)[1] == ["DELETE on curation_decision"]
    assert grants.differing(BACKUP)[0] == ["SELECT on of_a_later_release"]
    complaints = list(doctor.accounts_of_the_database())
    assert [isinstance(line, doctor.Advice) for line in complaints].count(True) == 1
    assert all("python -m server grants --apply" in line for line in complaints)
    call_command("migrate", interactive=False, verbosity=0)
    assert list(doctor.accounts_of_the_database()) == []


def test_whoever_is_no_owner_gives_no_rights_as_it_migrates(accounts, monkeypatch):
    with signed_in(SERVICE):
        assert not grants.owns_the_tables()
        grants.after_migrate()
    assert grants.owns_the_tables()


def test_an_account_that_is_not_made_yet_is_told_and_keeps_nobody_from_migrating(db, settings):
    settings.SERVICE_ROLE = f"nobody yet {WORD}"
    grants.after_migrate()
    assert next(doctor.accounts_of_the_database()).startswith("There is no account nobody yet")


# What runs as which


def test_one_account_for_everything_is_advised_against_on_a_public_server_alone(db, settings):
    assert list(doctor.accounts_of_the_database()) == []
    settings.PUBLIC = True
    (advice,) = doctor.accounts_of_the_database()
    assert isinstance(advice, doctor.Advice)
    assert "One account" in advice


def test_an_owner_who_is_signed_in_beside_is_advised_against(accounts, settings, monkeypatch):
    settings.PUBLIC = True
    monkeypatch.setattr(grants, "owners_at_work", lambda: ["commonwear"])
    (advice,) = doctor.accounts_of_the_database()
    assert isinstance(advice, doctor.Advice)
    assert advice.startswith("commonwear, who owns the tables, is signed in")


@pytest.mark.django_db(transaction=True)
def test_owners_who_are_signed_in_are_found():
    here = connection.get_connection_params()
    with psycopg.connect(**here), connection.cursor() as cursor:
        cursor.execute("SELECT current_user")
        assert cursor.fetchone()[0] in grants.owners_at_work()


def test_tables_are_written_anew_by_their_owner_and_what_asked_for_it_waits(accounts, monkeypatch):
    journal.leave_no_trace()
    monkeypatch.setattr(grants, "owns_the_tables", lambda: False)
    monkeypatch.setattr(deletion, "owns_the_tables", lambda: False)
    assert not deletion._in_postgresql(asked=True, thorough=False)
    assert Erasure.objects.filter(settled=False).exists()
    with pytest.raises(CommandError, match="the account that owns them"):
        call_command("sweep")


def test_the_command_prints_each_statement_and_carries_them_out_where_that_is_asked(db, settings, capsys):
    settings.SERVICE_ROLE = SERVICE
    call_command("grants")
    assert capsys.readouterr().out.count(";\n") == len(grants.statements())
    assert grants.missing_accounts() == [SERVICE]
    call_command("grants", apply=True)
    assert grants.differing(SERVICE) == ([], [])
    settings.SERVICE_ROLE = None
    with pytest.raises(CommandError, match="COMMONWEAR_SERVICE_ROLE"):
        call_command("grants")


def test_an_account_with_a_quote_in_its_name_is_one_account(db, settings):
    settings.SERVICE_ROLE = f"""o'account" {WORD}"""
    grants.apply()
    assert grants.differing(settings.SERVICE_ROLE) == ([], [])


def test_who_may_make_no_accounts_is_told_who_may(accounts, settings):
    settings.BACKUP_ROLE = f"another {WORD}"
    with pytest.raises(CommandError, match="allowed to make accounts"), signed_in(SERVICE):
        call_command("grants", apply=True)
