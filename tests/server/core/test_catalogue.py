"""Without an entry no wear can be uploaded, so an operator must be able to write one."""

from decimal import Decimal

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from server.core.catalogue import list_model
from server.core.errors import Invalid
from server.core.models import SensorModel
from server.core.selectors import sensor_model_slugs

pytestmark = pytest.mark.django_db


def test_an_entry_is_written_and_corrected_by_command():
    call_command("sensormodel", "demo-x10", "--rated-life-days", "10.5", "--licensed", "abdomen.flank", "calf:adult")
    assert SensorModel.objects.get().licensed_sites == [
        {"site": "abdomen.flank", "ages": "all"},
        {"site": "calf", "ages": "adult"},
    ]
    assert sensor_model_slugs() == {"demo-x10"}
    call_command("sensormodel", "demo-x10", "--rated-life-days", "14", "--closed")
    entry = SensorModel.objects.get()
    assert (entry.rated_life_days, entry.licensed_sites, sensor_model_slugs()) == (14, [], frozenset())


@pytest.mark.parametrize("changed", [{"licensed": {"nose": "all"}}, {"licensed": {"calf": "some"}}, {"slug": "a b"}])
def test_an_entry_that_no_record_or_row_could_use_is_refused(changed):
    entry = {"slug": "demo-x10", "rated_life_days": Decimal(10), "licensed": {}} | changed
    with pytest.raises(Invalid):
        list_model(entry.pop("slug"), **entry)
    assert not SensorModel.objects.exists()


def test_a_life_of_no_length_is_refused_in_words():
    with pytest.raises(CommandError, match=r"life_positive|greater|violated"):
        call_command("sensormodel", "demo-x10", "--rated-life-days", "0")
