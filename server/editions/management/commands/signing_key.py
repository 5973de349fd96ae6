from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from server.core.errors import Conflict
from server.editions import signing


class Command(BaseCommand):
    help = "Say the public key that editions are signed with; make the key if there is none."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--new", action="store_true", help="make a fresh key; keep the old file if you may need it")

    def handle(self, *_: Any, new: bool = False, verbosity: int = 1, **__: Any) -> None:
        try:
            key = signing.make_key(anew=new)
        except Conflict as error:
            raise CommandError(error.detail) from None
        if verbosity:
            self.stdout.write(key)
