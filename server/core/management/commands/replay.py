from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from server.core import deletion, journal


class Command(BaseCommand):
    help = "After a copy of the database was put back: erase again, and end again, what the erasure journal says."

    def handle(self, *_: Any, **__: Any) -> None:
        if not settings.ERASURE_JOURNAL.exists():
            raise CommandError(f"There is no erasure journal at {settings.ERASURE_JOURNAL}. Put it back first.")
        for kind, n_rows in journal.replay().items():
            self.stdout.write(f"{kind}: {n_rows}")
        if not deletion.make_physical(thorough=True):
            self.stderr.write("others are at work on the database; run sweep later to take it off the disks")
