import json

import pytest

from server.curation import expectations
from server.curation.expectations import model_for
from server.editions.models import Edition, Slot
from server.groups.selectors import everyone

pytestmark = pytest.mark.django_db


def publish(group, number, model):
    slot, _ = Slot.objects.get_or_create(number=number, defaults={"cut_off": f"2031-0{number}-01"})
    content = json.dumps({"model": model}).encode()
    Edition.objects.create(
        group=group, slot=slot, document=content, sha256=f"{number}" * 64, published_month=f"2031-0{number}-01"
    )


def test_before_a_first_edition_nothing_is_expected(group):
    assert model_for(group) == {}
    assert model_for(everyone()) == {}


def test_the_groups_last_edition_speaks_and_everyones_where_it_has_none(group):
    publish(everyone(), 1, {"of": "everyone"})
    assert model_for(group) == {"of": "everyone"}
    publish(group, 1, {"of": "the group"})
    publish(group, 2, {"of": "the group, later"})
    assert model_for(group) == {"of": "the group, later"}


def test_whoever_registers_last_is_asked(group, monkeypatch):
    monkeypatch.setattr(expectations, "_sources", [])
    assert model_for(group) == {}
    expectations.register(lambda asked: {"of": asked.slug})
    assert model_for(group) == {"of": "harbour"}
