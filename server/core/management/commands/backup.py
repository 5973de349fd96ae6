from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import CommandError, CommandParser

from server.core import clock, copies, envelope
from server.core.commands import CommandWithExamples

SHEET = """RECOVERY SHEET, {day}. Print it, and keep it where neither the machine nor its backups are.

This backup    {file}
  SHA-256      {sha256}
Its key        {key_name}, in {key_file}
{key_line}
Apart from it, from these places, and never inside a backup:
  keys         {keys}
  journal      {journal}  (the newest there is; never an older one)
  signing key  {signing}
  settings     COMMONWEAR_FIRST_CUT_OFF={first_cut_off}, and what else the service is started with

To come back:
  1. Install the same release. Put the three files and the backup key back in their places, each chmod 600, with
     the settings beside them.
  2. Make an empty database: no SQLite file, or a new PostgreSQL database in DATABASE_URL.
  3. python -m server restore {file}
     It brings the copy to the present schema, erases again what the journal says, and signs everybody out.
  4. On PostgreSQL with separate accounts: python -m server grants --apply.
  5. python -m server doctor, then start.
"""


class Command(CommandWithExamples):
    help = "Write an encrypted copy of the database, while the service runs, and print a recovery sheet."
    examples = """
examples:
  python -m server backup /backups/commonwear-2027-03-01.backup > sheet.txt
  python -m server backup /backups/today.backup --show-key | lp      the key too, on paper alone

exit codes: 0 the copy is written whole; 1 it is not, and nothing is left of it
"""

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, help="a new file; nothing is written over")
        parser.add_argument("--show-key", action="store_true", help="print the backup key on the sheet")

    def handle(self, *_: Any, file: Path, show_key: bool, **__: Any) -> None:
        try:
            key = envelope.new_key_file(settings.BACKUP_KEY_FILE)
            sha256 = copies.make(file.absolute(), key=key)
        except envelope.EnvelopeError as error:
            raise CommandError(str(error)) from None
        self.stdout.write(
            SHEET.format(
                day=clock.today(),
                file=file,
                sha256=sha256,
                key_name=envelope.name_of(key),
                key_file=settings.BACKUP_KEY_FILE,
                key_line=f"               {envelope.in_letters(key)}\n" if show_key else "",
                keys=settings.KEYS_FILE,
                journal=settings.ERASURE_JOURNAL,
                signing=settings.SIGNING_KEY_FILE,
                first_cut_off=settings.FIRST_CUT_OFF,
            )
        )
