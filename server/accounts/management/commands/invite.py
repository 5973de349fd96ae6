from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from server.accounts import joining
from server.core.errors import ServiceError


class Command(BaseCommand):
    help = "Print invitations to join this server, each for one account. They are shown once; hand them on unwatched."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--uses", type=int, default=1, metavar="N", help="how many invitations")

    def handle(self, *_: Any, uses: int, **__: Any) -> None:
        try:
            codes, until = joining.make_codes(uses)
        except ServiceError as error:
            raise CommandError("; ".join(fault["message"] for fault in error.faults) or error.detail) from None
        self.stdout.write("\n".join(codes))
        self.stderr.write(f"each lets one account in, before {until}")
