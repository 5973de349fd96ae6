"""The calls about editions act on the same small pool as the tests of the app."""

from tests.server.editions.conftest import pool, sealed

__all__ = ["pool", "sealed"]
