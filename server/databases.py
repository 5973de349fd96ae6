"""An address of a database, as Django is told of it."""

from pathlib import Path
from typing import Any
from urllib.parse import SplitResult

SCHEMES = ("postgresql", "postgres", "sqlite")
LONGEST_WRITE_S = 600
SPARE_CONNECTIONS = 2  # for what is answered whatever the load: health, and figures for monitoring


def described(address: SplitResult | None, *, data_dir: Path, at_once: int) -> dict[str, Any]:
    """One database as Django's settings want it; without an address, the SQLite file in the data directory.

    `at_once` is how many requests a process answers at a time, each of which takes one connection at most.
    """
    if address is None or address.scheme == "sqlite":
        return {
            "ENGINE": "server.core.sqlite",
            "NAME": address.path if address else data_dir / "commonwear.sqlite3",
            "OPTIONS": {
                # A transaction that will write takes the write lock when it begins, and so never fails half-way.
                "transaction_mode": "IMMEDIATE",
                # Who waits, waits for one writer that was there before, a cut-off at the longest.
                "timeout": LONGEST_WRITE_S,
                "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA secure_delete=ON;",
            },
            "TEST": {"NAME": ":memory:"},  # several processes would else make a path of the name
        }
    return {
        "ENGINE": "django.db.backends.postgresql",
        "NAME": address.path.lstrip("/"),
        "USER": address.username or "",
        "PASSWORD": address.password or "",
        "HOST": address.hostname or "",
        "PORT": str(address.port or ""),
        # The pool asks of each connection that it hands out whether it is still one; else a new one is made.
        "CONN_HEALTH_CHECKS": True,
        "OPTIONS": {
            "server_side_binding": True,
            "prepare_threshold": 5,
            "pool": {"min_size": 0, "max_size": at_once + SPARE_CONNECTIONS, "timeout": 10},
        },
    }
