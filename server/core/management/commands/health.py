import socket
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from kombu.exceptions import KombuError
from redis.exceptions import RedisError

from server.core import beat, health
from server.worker import app


class Command(BaseCommand):
    help = "Ask one part of the service on this machine whether it is well, as containers do; ends with 1 if not."
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("part", choices=("web", "worker", "sweep"))
        parser.add_argument("--port", type=int, default=8000)

    def handle(self, *_: Any, part: str, port: int, **__: Any) -> None:
        if not ASKED[part](port):
            raise CommandError(f"The {part} of this machine does not answer. See `python -m server doctor`.")
        self.stdout.write("well")


def _web(port: int) -> bool:
    return health.answers(f"http://127.0.0.1:{port}/")


def _worker(_port: int) -> bool:
    here = app.control.inspect(pattern=f"worker-*@{socket.gethostname()}", matcher="glob", timeout=5.0, limit=1)
    try:
        return bool(here.ping())
    except (KombuError, OSError, RedisError):  # no broker
        return False


def _sweep(_port: int) -> bool:
    try:
        return beat.is_heard()
    except beat.Unknown:
        return False


ASKED = {"web": _web, "worker": _worker, "sweep": _sweep}
