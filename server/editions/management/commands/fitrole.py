from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection, transaction

from server.editions import wall


class Command(BaseCommand):
    help = (
        "PostgreSQL: print the statements that make the role of COMMONWEAR_FIT_ROLE, which sees sums and no people; "
        "run it again after every upgrade."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--apply", action="store_true", help="carry them out as well")

    def handle(self, *_: Any, apply: bool, **__: Any) -> None:
        if connection.vendor != "postgresql":
            raise CommandError("SQLite has no roles; its connection refuses those tables by itself.")
        if not settings.FIT_ROLE:
            raise CommandError("Name the role first: COMMONWEAR_FIT_ROLE, see deploy/env.example.")
        for statement in wall.grants(settings.FIT_ROLE):
            self.stdout.write(f"{statement};")
        if apply:
            with transaction.atomic():
                wall.make_role(settings.FIT_ROLE)
