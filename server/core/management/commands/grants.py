from typing import Any

from django.core.management.base import CommandError, CommandParser
from django.db import DatabaseError

from server.core import grants
from server.core.commands import CommandWithExamples


class Command(CommandWithExamples):
    help = (
        "PostgreSQL: print the statements that make the accounts of the service, of backups and of figures, and give "
        "each the rights it needs. Run it as the account that owns the tables; migrate then keeps them up."
    )
    examples = """
examples:
  python -m server grants
  python -m server grants --apply
  python -m server grants | psql --username postgres commonwear      where the owner may make no accounts

An account that is made here has no password yet: \\password commonwear_service in psql.
exit codes: 0 printed, and carried out where that was asked; 1 refused, as said
"""
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--apply", action="store_true", help="carry them out as well")

    def handle(self, *_: Any, apply: bool, **__: Any) -> None:
        try:
            for statement in grants.statements():
                self.stdout.write(f"{statement};")
            if apply:
                grants.apply()
        except grants.Unfit as error:
            raise CommandError(str(error)) from None
        except DatabaseError as error:
            raise CommandError(
                f"PostgreSQL refused, and nothing was changed: {error}. Have somebody who is allowed to make accounts "
                "carry out what stands above."
            ) from None
