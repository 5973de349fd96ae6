import pytest
from django.core.management import CommandError, call_command, get_commands, load_command_class

from server.core import doctor, grants


@pytest.mark.parametrize("name", ["backup", "restore", "move", "doctor", "grants"])
def test_help_shows_examples_and_exit_codes(name):
    told = load_command_class(get_commands()[name], name).create_parser("python -m server", name).format_help()
    assert f"python -m server {name}" in told.split("examples:")[1]
    assert "exit codes: 0" in told


def test_sqlite_has_no_accounts_and_that_is_said(monkeypatch, settings):
    class File:
        vendor = "sqlite"

    monkeypatch.setattr(grants, "connection", File())
    monkeypatch.setattr(doctor, "connection", File())
    settings.PUBLIC = True
    with pytest.raises(CommandError, match="SQLite has no accounts"):
        call_command("grants")
    assert list(doctor.accounts_of_the_database()) == []
    assert grants.owns_the_tables()
    grants.after_migrate()
