import signal
import time
from threading import Event
from types import FrameType
from typing import Any

from django.core.management.base import CommandError, CommandParser
from django.db import close_old_connections

from server.core import beat, deletion, grants, services
from server.core.commands import CommandWithExamples

NOT_THE_OWNER = (
    "Tables are written anew by the account that owns them: run it with that one's address in DATABASE_URL. As this "
    "account run: python -m server sweep --every 5"
)

TRIES, PAUSE_S = 5, 5.0
NOT_DONE = (
    "what was erased is not all out of the tables: others are at work on the database, or in a transaction that began "
    "before the erasure; run it again later"
)


class Command(CommandWithExamples):
    help = (
        "Do what is due: send waiting jobs again, drop what has expired, seal cut-offs whose date has come. "
        "Without --every it also writes the tables anew, so that what was erased is on no disk."
    )
    examples = """
examples:
  python -m server sweep --every 5      beside web and worker, on one machine or several
  python -m server sweep                once a night, as the account that owns the tables

exit codes: 0 done; 1 what was erased is not all off the disks, or the tables are another account's
"""

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--every", type=float, metavar="SECONDS", help="go on until stopped")

    def handle(self, *_: Any, every: float | None, **__: Any) -> None:
        stopping = Event()

        def stop(_number: int, _frame: FrameType | None) -> None:
            stopping.set()

        if every is not None:
            signal.signal(signal.SIGTERM, stop)
            signal.signal(signal.SIGINT, stop)
        elif not grants.owns_the_tables():
            raise CommandError(NOT_THE_OWNER)
        services.sweep()
        if every is None:
            self._make_physical()
        while every is not None and not stopping.wait(every):
            close_old_connections()
            services.sweep()
            beat.leave_sign(every_s=every)

    def _make_physical(self) -> None:
        for n_left in reversed(range(TRIES)):
            if deletion.make_physical(thorough=True):
                self.stdout.write(f"what was erased is out of the tables; {deletion.leave_the_log_behind()}")
                return
            if n_left:
                time.sleep(PAUSE_S)
        raise CommandError(NOT_DONE)
