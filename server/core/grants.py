"""Accounts of PostgreSQL, each with the rights it needs and no others, and the statements that give them these.

The account that migrates owns the tables. Web, worker and sweep sign in as `COMMONWEAR_SERVICE_ROLE`, which owns none
and may do with each what the apps' `rights.py` say; backups as `COMMONWEAR_BACKUP_ROLE`, which reads. Figures are
worked out in `COMMONWEAR_FIT_ROLE`, which nobody signs in as (server/editions/wall.py). Whichever is not named is
left out. Tables of a later release get their rights as it migrates; what has no row there, nobody but the owner can
touch.
"""

from collections.abc import Iterable, Iterator
from typing import Any, Final

from django.conf import settings
from django.db import connection, transaction
from django.db.migrations.recorder import MigrationRecorder

from server.core.register import READ, rights_of_figures, rights_of_service

# Whoever has one of these has no need of them, and could undo the rest.
NOBODYS: Final = ("TRUNCATE", "REFERENCES", "TRIGGER")


class Unfit(Exception):
    """Why there are no statements, in words for the operator."""


def roles() -> dict[str, dict[str, tuple[str, ...]]]:
    """The accounts that are named, with what each may do with which table that there is."""
    there = set(connection.introspection.table_names())
    migrations = {MigrationRecorder.Migration._meta.db_table: READ.of(MigrationRecorder.Migration)}
    wanted: dict[str | None, dict[str, tuple[str, ...]]] = {
        settings.SERVICE_ROLE: rights_of_service() | migrations,
        settings.BACKUP_ROLE: dict.fromkeys(there, ("SELECT",)),
        settings.FIT_ROLE: rights_of_figures(),
    }
    return {
        role: {table: rights for table, rights in of_tables.items() if table in there}
        for role, of_tables in wanted.items()
        if role
    }


def statements() -> list[str]:
    """Whatever makes the accounts, or brings them to the present tables. Passwords are not among it."""
    if connection.vendor != "postgresql":
        raise Unfit("SQLite has no accounts: whoever can read its file has it all. Keep the data folder to yourself.")
    if not roles():
        raise Unfit("Name the accounts first: COMMONWEAR_SERVICE_ROLE and what stands beside it in deploy/env.example.")
    if not connection.introspection.table_names():
        raise Unfit("There are no tables yet. Run first, as the account that is to own them: python -m server migrate")
    return [*_making(), *_closing_to_others(), *_giving(roles())]


def apply() -> None:
    _carry_out(statements())


def after_migrate(**_: Any) -> None:
    """Whoever migrates as the owner gives the accounts that there are their rights to what is new."""
    if connection.vendor == "postgresql" and roles() and owns_the_tables():
        _carry_out(_giving(set(roles()) - set(missing_accounts())))


def owns_the_tables() -> bool:
    """Whether the present account may change tables, write them anew and give rights to them."""
    if connection.vendor != "postgresql":
        return True
    ((owns,),) = _asked(
        "SELECT coalesce(bool_and(pg_has_role(relowner, 'USAGE')), true) FROM pg_class "
        "WHERE relkind = 'r' AND relnamespace = 'public'::regnamespace"
    )
    return bool(owns)


def _making() -> Iterator[str]:
    here, _ = _present()
    for role in roles():
        login = "NOLOGIN" if role == settings.FIT_ROLE else "LOGIN"
        absent = f"NOT EXISTS (SELECT FROM pg_roles WHERE rolname = {_literal(role)})"  # (quoted)  # nosec B608
        yield _where(absent, f"CREATE ROLE {_name(role)} {login}")
    if figures := settings.FIT_ROLE:
        for member in filter(None, (settings.SERVICE_ROLE, here)):
            stranger = f"NOT pg_has_role({_literal(member)}, {_literal(figures)}, 'MEMBER')"
            yield _where(stranger, f"GRANT {_name(figures)} TO {_name(member)}")


def _closing_to_others() -> Iterator[str]:
    """Other accounts of the same PostgreSQL get in no more; only who owns the database can say so."""
    if not settings.SERVICE_ROLE:
        return
    ours = "pg_has_role((SELECT datdba FROM pg_database WHERE datname = current_database()), 'USAGE')"
    here, database = _present()
    guests = ", ".join(_name(role) for role in (settings.SERVICE_ROLE, settings.BACKUP_ROLE, here) if role)
    database = _name(database)
    yield _where(
        ours, f"REVOKE ALL ON DATABASE {database} FROM PUBLIC", f"GRANT CONNECT ON DATABASE {database} TO {guests}"
    )
    yield "REVOKE CREATE ON SCHEMA public FROM PUBLIC"


def _giving(to: Iterable[str]) -> Iterator[str]:
    """Their rights, instead of all that they had."""
    for role in to:
        of_tables, name = roles()[role], _name(role)
        given = [
            f"REVOKE ALL ON ALL TABLES IN SCHEMA public FROM {name}",
            f"REVOKE ALL ON ALL SEQUENCES IN SCHEMA public FROM {name}",
            f"GRANT USAGE ON SCHEMA public TO {name}",
            *(f"GRANT {', '.join(rights)} ON {_name(table)} TO {name}" for table, rights in sorted(of_tables.items())),
        ]
        if role == settings.BACKUP_ROLE:
            given.append(f"GRANT SELECT ON ALL SEQUENCES IN SCHEMA public TO {name}")
        yield from given


# What holds


def differing(role: str) -> tuple[list[str], list[str]]:
    """Which rights an account lacks, and which it has beyond its own."""
    wanted = {f"{right} on {table}" for table, rights in roles()[role].items() for right in rights}
    held = set(_held(role))
    return sorted(wanted - held), sorted(held - wanted)


def missing_accounts() -> list[str]:
    there = {name for (name,) in _asked("SELECT rolname FROM pg_roles")}
    return sorted(set(roles()) - there)


def owners_at_work() -> list[str]:
    """Accounts that own tables, or everything, and have other sessions in this database than this one."""
    return [
        name
        for (name,) in _asked(
            "SELECT DISTINCT rolname FROM pg_stat_activity JOIN pg_roles ON rolname = usename "
            "WHERE datname = current_database() AND pid <> pg_backend_pid() AND (rolsuper OR pg_roles.oid IN "
            "(SELECT relowner FROM pg_class WHERE relkind = 'r' AND relnamespace = 'public'::regnamespace)) ORDER BY 1"
        )
    ]


def _held(role: str) -> Iterator[str]:
    of_tables = _asked(
        "SELECT relname, may FROM pg_class CROSS JOIN unnest(%s::text[]) AS may "
        "WHERE relkind = 'r' AND relnamespace = 'public'::regnamespace AND has_table_privilege(%s, pg_class.oid, may)",
        ["SELECT", "INSERT", "UPDATE", "DELETE", *NOBODYS],
        role,
    )
    yield from (f"{may} on {table}" for table, may in of_tables)
    of_columns = _asked(
        "SELECT relname, attname FROM pg_class JOIN pg_attribute ON attrelid = pg_class.oid "
        "WHERE relkind = 'r' AND relnamespace = 'public'::regnamespace AND attnum > 0 AND NOT attisdropped "
        "AND has_column_privilege(%s, pg_class.oid, attnum, 'UPDATE') "
        "AND NOT has_table_privilege(%s, pg_class.oid, 'UPDATE')",
        role,
        role,
    )
    yield from (f'UPDATE ("{column}") on {table}' for table, column in of_columns)
    ((creates, superior),) = _asked(
        "SELECT has_schema_privilege(rolname, 'public', 'CREATE') OR "
        "has_database_privilege(rolname, current_database(), 'CREATE, TEMPORARY'), "
        "rolsuper OR rolcreaterole OR rolcreatedb OR rolreplication OR rolbypassrls FROM pg_roles WHERE rolname = %s",
        role,
    )
    yield from ["making tables"] * creates + ["rights over the whole of PostgreSQL"] * superior


# The database


def _carry_out(said: Iterable[str]) -> None:
    with transaction.atomic(), connection.cursor() as cursor:
        for statement in said:
            cursor.execute(statement)


def _asked(question: str, *given: Any) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(question, given or None)
        return list(cursor.fetchall())


def _present() -> tuple[str, str]:
    """Who is signed in, and to which database."""
    ((name, database),) = _asked("SELECT current_user, current_database()")
    return str(name), str(database)


def _where(condition: str, *done: str) -> str:
    return f"DO $$ BEGIN IF {condition} THEN {'; '.join(done)}; END IF; END $$"


def _name(word: str) -> str:
    return f'"{word.replace(chr(34), chr(34) * 2)}"'


def _literal(word: str) -> str:
    return "'" + word.replace("'", "''") + "'"
