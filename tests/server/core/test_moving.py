import hashlib
import os
from urllib.parse import urlsplit

import pytest
from django.db import connections

from server.core import moving
from server.editions.models import Edition
from server.wears.models import Wear
from tests.server.running import scratch_database


@pytest.fixture
def address(tmp_path):
    with scratch_database(os.environ.get("DATABASE_URL")) as variables:
        yield urlsplit(variables.get("DATABASE_URL", f"sqlite://{tmp_path}/moved.sqlite3"))


@pytest.mark.django_db(transaction=True)
def test_every_row_arrives_with_its_id_and_editions_keep_their_bytes(address, edition, contributor, give):
    wear = give(contributor)
    moved = moving.move(address)
    assert (moved["wears.Wear"], moved["editions.Edition"]) == (1, 1)
    assert moved["accounts.Account"] == 2
    with moving._reached(address):
        there = Edition.objects.using(moving.TARGET).get()
        assert (there.pk, there.sha256) == (edition.pk, hashlib.sha256(bytes(there.document)).hexdigest())
        assert Wear.objects.using(moving.TARGET).get().pk == wear.pk
    with pytest.raises(moving.MovingError, match="not empty"):
        moving.move(address)
    assert moving.TARGET not in connections.settings


@pytest.mark.django_db(transaction=True)
def test_a_row_that_arrives_otherwise_stops_the_move(address, edition, monkeypatch):
    carry = moving._carry

    def spoil(model):
        n_rows = carry(model)
        if model is Edition:
            Edition._base_manager.using(moving.TARGET).update(sha256="0" * 64)
        return n_rows

    monkeypatch.setattr(moving, "_carry", spoil)
    with pytest.raises(moving.MovingError, match=r"editions\.Edition"):
        moving.move(address)
    with moving._reached(address):
        assert not Edition.objects.using(moving.TARGET).exists()


def test_tables_come_after_those_they_point_at():
    order = moving.in_order()
    for model in order:
        for field in model._meta.concrete_fields:
            if field.related_model not in (None, model):
                assert order.index(field.related_model) < order.index(model)
