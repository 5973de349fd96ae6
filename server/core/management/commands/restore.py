from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import CommandError, CommandParser

from server.core import copies, deletion, envelope, journal
from server.core.commands import CommandWithExamples


class Command(CommandWithExamples):
    help = "Put a copy back into an empty database, and erase again what was erased since it was made."
    examples = """
examples:
  python -m server restore /backups/commonwear-2027-03-01.backup
  python -m server restore /backups/today.backup --key-file /mnt/safe/backup-key
  python -m server restore /backups/today.backup --journal-is-lost    what was erased since the copy comes back

exit codes: 0 restored and replayed; 1 refused, or failed with what it says
"""
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--key-file", type=Path, default=settings.BACKUP_KEY_FILE, help="the backup key")
        parser.add_argument("--journal-is-lost", action="store_true", help="go on without the erasure journal")

    def handle(self, *_: Any, file: Path, key_file: Path, journal_is_lost: bool, **__: Any) -> None:
        if not settings.ERASURE_JOURNAL.exists() and not journal_is_lost:
            raise CommandError(
                f"There is no erasure journal at {settings.ERASURE_JOURNAL}. Put it back first; without it what was "
                "erased since the copy comes back. If it is lost for good, say --journal-is-lost and tell your members."
            )
        try:
            copies.put_back(file, key=envelope.key_in(key_file))
        except envelope.EnvelopeError as error:
            raise CommandError(str(error)) from None
        call_command("migrate", interactive=False, verbosity=0)
        for kind, n_rows in journal.replay().items():
            self.stdout.write(f"{kind}: {n_rows}")
        if not deletion.make_physical(thorough=True):
            self.stderr.write(deletion.NOT_YET)
        self.stdout.write("Restored. Look at it with: python -m server doctor")
