from typing import Any

from django.core.management.base import CommandError
from django.db import DatabaseError, connection

from server import databases, env
from server.core import moving
from server.core.commands import CommandWithExamples


class Command(CommandWithExamples):
    help = "Carry everything from the database in use to the empty one of COMMONWEAR_MOVE_TO. Stop the service before."
    examples = """
examples:
  COMMONWEAR_MOVE_TO=postgresql://commonwear@db.example/commonwear python -m server move

Afterwards set DATABASE_URL to the same address. Keys, journal and signing key stay where they are.
exit codes: 0 every row has arrived as it was; 1 nothing was moved, and why
"""

    def handle(self, *_: Any, **__: Any) -> None:
        address = env.url("COMMONWEAR_MOVE_TO", schemes=databases.SCHEMES)
        if address is None:
            raise CommandError("Set COMMONWEAR_MOVE_TO to the address of an empty database.")
        try:
            moved = moving.move(address)
        except moving.MovingError as error:
            raise CommandError(str(error)) from None
        except DatabaseError as error:
            raise CommandError(f"The database to move to refused ({type(error).__name__}); it holds no row.") from None
        for label, n_rows in sorted(moved.items()):
            self.stdout.write(f"{n_rows:8} {label}")
        self.stdout.write(
            "All rows arrived as they are here. Set DATABASE_URL to the new address, and start. Once it serves, delete "
            f"the database that was left ({_named()}): what members erase from now on stays in it."
        )


def _named() -> str:
    """The database that stays behind, as whoever deletes it knows it."""
    name = connection.settings_dict["NAME"]
    return f"{name}, {name}-wal and {name}-shm" if connection.vendor == "sqlite" else f"{name}"
