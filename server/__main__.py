"""`python -m server <command>`: every command of the server, our own and Django's."""

import os
import sys

from django.core.management import execute_from_command_line

from server import env


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "server.settings")
    try:
        # Commands are modules, and people write rotate-keys.
        words = [word.replace("-", "_") if word[:1] != "-" else word for word in sys.argv[1:2]]
        command = ["python -m server", *words, *sys.argv[2:]]
        if words == ["health"]:
            _ask(command)
        else:
            execute_from_command_line(command)
    except env.EnvironmentFault as fault:
        sys.exit(f"Not started: {fault}")


def _ask(command: list[str]) -> None:
    """Each container asks every minute: with the settings and none of the apps, a third of the computing."""
    from server.core.management.commands.health import Command

    Command().run_from_argv(command)


if __name__ == "__main__":
    main()
