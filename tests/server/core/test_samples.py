"""What PostgreSQL keeps to plan queries holds nothing that people brought; SQLite is never asked to keep anything."""

from datetime import date

import pytest
from django.db import connection

from server.core import deletion, samples
from server.core.models import Notice

SAMPLED = "SELECT count(*) FROM pg_stats WHERE tablename = %s AND attname = %s"


def n_samples(table, column):
    with connection.cursor() as cursor:
        cursor.execute(f"ANALYZE {table}")
        cursor.execute(SAMPLED, [table, column])
        return cursor.fetchone()[0]


def post():
    Notice.objects.bulk_create(Notice(text=f"the word {n} of many", posted_on=date(2031, 2, 10)) for n in range(40))


def test_what_people_brought_is_among_the_columns():
    brought = {
        ("wears_wear", "header"),
        ("wears_wearpairs", "block"),
        ("wears_wearsummary", "payload"),
        ("accounts_account", "sign_in_name"),
        ("core_notice", "text"),
    }
    assert brought <= set(samples.columns())


@pytest.mark.django_db
def test_of_none_of_them_anything_is_sampled():
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT count(*) FROM sqlite_master WHERE name LIKE 'sqlite_stat%'")
            assert cursor.fetchone() == (0,)
            return
        cursor.execute(samples.STILL_SAMPLED, [list(names) for names in zip(*samples.columns(), strict=True)])
        assert cursor.fetchall() == []
    post()
    assert (n_samples("core_notice", "text"), n_samples("core_notice", "id")) == (0, 1)


@pytest.mark.django_db(transaction=True)
def test_a_thorough_sweep_forgets_what_was_sampled_before():
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ALTER TABLE core_notice ALTER text SET STATISTICS -1")
        post()
        assert n_samples("core_notice", "text") == 1, "the danger is there"
        Notice.objects.all().delete()
        assert n_samples("core_notice", "text") == 1, "and outlives the rows"
    assert deletion.make_physical(thorough=True)
    if connection.vendor == "postgresql":
        assert n_samples("core_notice", "text") == 0
