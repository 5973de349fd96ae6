from tests.server.editions.conftest import pool, sealed, second_moderator, two_people  # noqa: F401
