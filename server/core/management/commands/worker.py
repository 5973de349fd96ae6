import os
from typing import Any
from uuid import uuid4

from celery.signals import worker_before_create_process
from django.core.management.base import BaseCommand, CommandParser

from server.core import forking
from server.worker import app


class Command(BaseCommand):
    help = "Run jobs. Any number of workers may run, on any number of machines that share database and broker."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--processes", type=int, default=min(2, os.cpu_count() or 1))
        parser.add_argument("--nice", type=int, default=0, help="0 to 19: how far to stand back for other programs")

    def handle(self, *_: Any, processes: int, nice: int, **__: Any) -> None:
        os.nice(nice)
        worker_before_create_process.connect(_get_ready, weak=False)
        app.worker_main(
            [
                "--quiet",
                "worker",
                f"--hostname=worker-{uuid4().hex[:12]}@%h",
                f"--concurrency={processes}",
                "--pool=prefork",
                "--loglevel=WARNING",
                "--without-gossip",
                "--without-mingle",
                "--without-heartbeat",
            ]
        )


def _get_ready(**_: Any) -> None:
    forking.get_ready()
