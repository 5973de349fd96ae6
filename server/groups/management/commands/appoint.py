from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from server.core.errors import NotFound
from server.groups.services import appoint_by_name


class Command(BaseCommand):
    help = "Make a member a moderator of a group; `everyone`, which nobody can join, gets its moderators this way."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("group", help="short name of the group")
        parser.add_argument("sign_in_name")

    def handle(self, *_: Any, group: str, sign_in_name: str, **__: Any) -> None:
        try:
            appoint_by_name(group, sign_in_name=sign_in_name)
        except NotFound as error:
            raise CommandError(error.detail) from None
        self.stdout.write(f"a moderator of {group}: {sign_in_name}")
