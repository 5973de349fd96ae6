"""The calls about editions act on the same small pool as the tests of the app."""

from tests.server.editions.conftest import pool, sealed, second_moderator, signing_key, two_people

__all__ = ["pool", "sealed", "second_moderator", "signing_key", "two_people"]
