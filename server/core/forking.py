"""Before a process makes others of itself: what they must not share is let go, and what they share stays shared."""

import gc

from django.db import connections


def get_ready() -> None:
    """Close what the database is held by, and put all that is loaded out of the collector's sight.

    A pool has threads, and a forked process would not have them. The collector writes into every object that it looks
    at, and a page that is written to is no longer shared: of web and worker together that was some 80 MiB.
    """
    for connection in connections.all(initialized_only=True):
        connection.close()
        if hasattr(connection, "close_pool"):
            connection.close_pool()
    gc.collect()
    gc.freeze()
