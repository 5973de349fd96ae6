import logging
import os
from importlib import import_module
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandParser
from django.db import connection
from django.urls import get_resolver
from granian import Granian
from granian.constants import Interfaces
from granian.log import LogLevels

from server.core import forking

SPARE_THREADS = 4  # that tell further requests to come back, and answer for the health of the process
LONGEST_ANSWER_S = 30  # for so long a stop waits for answers that are under way
LONGEST_WAIT_S = 10  # for a row that somebody else holds, such as a cut-off; then the room is for others


class Command(BaseCommand):
    help = "Answer requests."
    requires_system_checks = "__all__"

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--host", default="127.0.0.1")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--processes", type=int, default=1)
        parser.add_argument(
            "--threads", type=int, default=settings.MOST_REQUESTS, help="requests that a process answers at once"
        )

    def handle(self, *_: Any, host: str, port: int, processes: int, threads: int, **__: Any) -> None:
        if not (settings.DEBUG or _gathered_for_good()):
            call_command("collectstatic", interactive=False, verbosity=0)
        settings.MOST_REQUESTS = threads
        if connection.vendor == "postgresql":
            connection.settings_dict["OPTIONS"]["options"] = f"-c lock_timeout={LONGEST_WAIT_S}s"
        _load_pages()
        forking.get_ready()
        # It takes threads that wait or say no for threads at work, and warns of them at every start.
        logging.getLogger("_granian").addFilter(lambda line: "Python threads" not in line.getMessage())
        Granian(
            "server.wsgi:application",
            address=host,
            port=port,
            interface=Interfaces.WSGI,
            workers=processes,
            blocking_threads=threads + settings.MOST_IN_LINE + SPARE_THREADS,
            respawn_failed_workers=True,
            workers_kill_timeout=LONGEST_ANSWER_S,
            log_level=LogLevels.warning,
        ).serve()


def _gathered_for_good() -> bool:
    """Whether the static files stand where this process may not write: they came with the image, or with the set-up."""
    place = Path(settings.STATIC_ROOT)
    return (place / "staticfiles.json").is_file() and not os.access(place, os.W_OK)


def _load_pages() -> None:
    """Load once, before processes are made of this one, what each of them would load for itself."""
    import_module("server.wsgi")
    list(get_resolver().url_patterns)
