import pytest
from django.core.management import get_commands, load_command_class


@pytest.mark.parametrize("name", ["backup", "restore", "move", "doctor"])
def test_help_shows_examples_and_exit_codes(name):
    told = load_command_class(get_commands()[name], name).create_parser("python -m server", name).format_help()
    assert f"python -m server {name}" in told.split("examples:")[1]
    assert "exit codes: 0" in told
