from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from server.core.errors import ServiceError
from server.editions import retracting
from server.groups.selectors import group_of_slug


class Command(BaseCommand):
    help = "Take an edition of any group back, as the operator; its address says so from then on. It cannot be undone."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("group", help="short name of the group")
        parser.add_argument("number", type=int, help="number of the edition")
        parser.add_argument("--reason", required=True, choices=retracting.REASONS)

    def handle(self, *_: Any, group: str, number: int, reason: str, **__: Any) -> None:
        try:
            retracting.retract_edition(group_of_slug(group), number, reason=reason, by=None)
        except ServiceError as error:
            raise CommandError(error.detail) from None
        self.stdout.write(f"taken back: edition {number} of {group}")
