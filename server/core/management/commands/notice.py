from pathlib import Path
from typing import Any
from uuid import UUID

from django.core.management.base import BaseCommand, CommandError, CommandParser

from server.core.errors import ServiceError
from server.core.notices import all_notices, post_notice, withdraw_notice


class Command(BaseCommand):
    help = "Tell everybody something: on every page, in every answer to a sign-in, and at /notices/."

    def add_arguments(self, parser: CommandParser) -> None:
        what = parser.add_mutually_exclusive_group()
        what.add_argument("text", nargs="?", help="what is to be said; without it the notices are listed")
        what.add_argument("--file", type=Path, help="a text file that says it")
        what.add_argument("--withdraw", type=UUID, metavar="ID", help="take a notice off the pages")

    def handle(self, *_: Any, text: str | None, file: Path | None, withdraw: UUID | None, **__: Any) -> None:
        try:
            if withdraw is not None:
                withdraw_notice(withdraw)
            elif file is not None:
                post_notice(file.read_text(encoding="utf-8"))
            elif text is not None:
                post_notice(text)
        except (ServiceError, OSError, UnicodeDecodeError) as error:
            raise CommandError(str(error)) from None
        for notice in all_notices():
            until = f"withdrawn {notice.withdrawn_on}" if notice.withdrawn_on else "stands"
            self.stdout.write(f"{notice.pk}  {notice.posted_on}  {until}  {notice.text.splitlines()[0][:60]}")
