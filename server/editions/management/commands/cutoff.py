from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from server.core import clock
from server.core.errors import Conflict
from server.editions import services


class Command(BaseCommand):
    help = "Seal every cut-off whose date has come, or one by its number. What is sealed already stays as it is."

    def add_arguments(self, parser: CommandParser) -> None:
        which = parser.add_mutually_exclusive_group()
        which.add_argument("--due", action="store_true", help="all whose date has come (also without this)")
        which.add_argument("--slot", type=int, metavar="N", help="this one alone")

    def handle(self, *_: Any, slot: int | None, **__: Any) -> None:
        today = clock.today()
        try:
            if slot is None:
                sealed = services.run_due_cut_offs(today)
            else:
                sealed = (slot,) if services.run_cut_off_of(slot, today=today) else ()
        except Conflict as error:
            raise CommandError(str(error)) from None
        self.stdout.write(f"sealed: {', '.join(map(str, sealed)) or 'nothing was due'}")
