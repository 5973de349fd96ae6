"""A tag put right by its owner: the wear is then as if it had been uploaded so."""

import pytest

from pooling import summary as summaries
from server.core.errors import Conflict, Invalid
from server.groups.services import change_protocol
from server.wears.copies import bands_for
from server.wears.corrections import correct
from server.wears.models import Wear
from server.wears.services import erase_due_pairs
from tests.server.records import pairs

pytestmark = pytest.mark.django_db


def summary_in(wear):
    wear.summary.refresh_from_db()
    return summaries.from_bytes(bytes(wear.summary.payload))


@pytest.mark.parametrize(
    ("tag", "value"),
    [
        ("site", "calf"),
        ("side", "right"),
        ("sensor_model", "demo-b10"),
        ("end_reason", "fell_off"),
    ],
)
def test_a_tag_put_right_makes_the_wear_that_should_have_been_uploaded(upload, contributor, tag, value):
    wear, should = upload(contributor), upload(contributor, **{tag: value})
    correct(wear, tag, value)
    wear = Wear.objects.get(pk=wear.pk)
    assert {**wear.header, "plan": None} == {**should.header, "plan": None}
    assert wear.findings == should.findings
    assert bytes(wear.pairs.block) == bytes(should.pairs.block)
    assert summary_in(wear) == summary_in(should)


def test_a_unit_put_right_moves_every_reading_and_what_follows_from_them(upload, contributor):
    # The numbers that both units can have, 20 to 33: a record in the wrong one of them is taken at upload.
    both = [one | {"reference": 21 + at % 12, "sensor": 22 + at % 11} for at, one in enumerate(pairs())]
    wear = upload(contributor, pairs=both, glucose_unit="mg/dL")
    should = upload(contributor, pairs=both, glucose_unit="mmol/L")
    correct(wear, "glucose_unit", "mmol/L")
    wear = Wear.objects.get(pk=wear.pk)
    assert wear.header["glucose_unit"] == "mmol/L"
    assert summary_in(wear) == summary_in(should)
    found = bands_for([wear.id, should.id])
    assert found[wear.id] == found[should.id]
    assert wear.findings == should.findings
    assert (wear.copied, should.copied) == (None, False)


@pytest.mark.parametrize(
    ("tag", "value"),
    [
        ("site", "thigh"),
        ("site", "thigh.front"),
        ("glucose_unit", "mmol/L"),
        ("sensor_model", "demo-closed"),
        ("worn_min", "10"),
        ("plan", "another-plan"),
    ],
    ids=["no leaf", "the same", "no such readings in it", "a closed model", "no tag", "no tag either"],
)
def test_what_makes_no_record_changes_nothing(upload, contributor, tag, value):
    wear = upload(contributor)
    before = Wear.objects.filter(pk=wear.pk).values().get()
    with pytest.raises(Invalid) as refused:
        correct(wear, tag, value)
    assert refused.value.faults[0]["pointer"] == "#/value"
    assert Wear.objects.filter(pk=wear.pk).values().get() == before


def test_without_readings_nothing_is_put_right(upload, contributor):
    wear = upload(contributor)
    erase_due_pairs(today=wear.pairs.erase_on)
    with pytest.raises(Conflict, match="erased"):
        correct(wear, "site", "calf")


def test_a_model_that_the_group_does_not_take_is_no_answer(give, contributor, moderator, group):
    wear = give(contributor)
    change_protocol(group, by=moderator.account, accepted_models=["demo-a14"])
    with pytest.raises(Conflict, match="do not take this sensor model"):
        correct(wear, "sensor_model", "demo-b10")
