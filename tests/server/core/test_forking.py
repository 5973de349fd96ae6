import gc

import pytest
from django.db import connection

from server.core import forking


@pytest.fixture
def thawed():
    gc.unfreeze()
    yield
    gc.unfreeze()


@pytest.mark.django_db(transaction=True)
def test_the_database_is_let_go_and_the_collector_leaves_alone_what_is_shared(thawed):
    connection.ensure_connection()
    before = gc.get_freeze_count()
    forking.get_ready()
    assert connection.connection is None or connection.is_in_memory_db()
    assert gc.get_freeze_count() > before + 10_000
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
        assert cursor.fetchone() == (1,)
