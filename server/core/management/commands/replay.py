from typing import Any

from django.conf import settings
from django.core.management.base import CommandError

from server.core import deletion, journal
from server.core.commands import CommandWithExamples


class Command(CommandWithExamples):
    help = "After a copy of the database was put back: erase again, and end again, what the erasure journal says."
    examples = """
examples:
  python -m server replay      with the service stopped; `restore` and `up` do the same by themselves

exit codes: 0 erased again, as far as there was anything; 1 there is no journal
"""

    def handle(self, *_: Any, **__: Any) -> None:
        if not settings.ERASURE_JOURNAL.exists():
            raise CommandError(f"There is no erasure journal at {settings.ERASURE_JOURNAL}. Put it back first.")
        for kind, n_rows in journal.replay().items():
            self.stdout.write(f"{kind}: {n_rows}")
        if not deletion.make_physical(thorough=True):
            self.stderr.write(deletion.NOT_YET)
