"""Without an entry no wear can be uploaded, so an operator must be able to write one."""

import json
from decimal import Decimal
from io import StringIO

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from server.core import catalogue
from server.core.catalogue import accept_proposal, list_model, proposals, propose
from server.core.errors import Conflict, Invalid
from server.core.models import SensorModel
from server.core.selectors import sensor_model_slugs

pytestmark = pytest.mark.django_db


FACTS = {"rated_life_days": Decimal("10.5"), "licensed": {"calf": "adult", "abdomen.flank": "all"}}


def command(*words):
    out = StringIO()
    call_command("sensormodel", *words, stdout=out)
    return out.getvalue().strip()


def test_an_entry_is_added_and_closed_by_command():
    command("add", "demo-x10", "--rated-life-days", "10.5", "--licensed", "abdomen.flank", "calf:adult")
    assert SensorModel.objects.get().licensed_sites == [
        {"site": "abdomen.flank", "ages": "all"},
        {"site": "calf", "ages": "adult"},
    ]
    assert sensor_model_slugs() == {"demo-x10"}
    assert command("close", "demo-x10") == "closed: demo-x10"
    assert sensor_model_slugs() == frozenset()
    assert json.loads(command("list", "--json"))[0]["open"] is False
    command("open", "demo-x10")
    assert sensor_model_slugs() == {"demo-x10"}


def test_what_an_entry_says_stays():
    list_model("demo-x10", **FACTS)
    with pytest.raises(CommandError, match="stays"):
        command("add", "demo-x10", "--rated-life-days", "14")
    assert SensorModel.objects.get().rated_life_days == Decimal("10.5")
    with pytest.raises(CommandError, match="There is no sensor model"):
        command("close", "demo-x11")


def test_a_new_generation_is_an_entry_beside_the_old_one():
    list_model("demo-x10", **FACTS)
    list_model("demo-x10-2", **FACTS, generation=2)
    generations = dict(SensorModel.objects.values_list("slug", "algorithm_generation"))
    assert generations == {"demo-x10": 1, "demo-x10-2": 2}


@pytest.mark.parametrize("changed", [{"licensed": {"nose": "all"}}, {"licensed": {"calf": "some"}}, {"slug": "a b"}])
def test_an_entry_that_no_record_or_row_could_use_is_refused(changed):
    entry = {"slug": "demo-x10", "rated_life_days": Decimal(10), "licensed": {}} | changed
    with pytest.raises(Invalid):
        list_model(entry.pop("slug"), **entry)
    assert not SensorModel.objects.exists()


@pytest.mark.parametrize("life", ["0", "-1", "401", "two"])
def test_a_life_that_no_sensor_has_is_refused_in_words(life):
    with pytest.raises(CommandError, match=r"rated life|rated-life|invalid"):
        command("add", "demo-x10", f"--rated-life-days={life}")
    assert not SensorModel.objects.exists()


# ---- proposals -------------------------------------------------------------------------------------------------------


def test_an_accepted_proposal_is_an_entry_and_a_declined_one_is_gone():
    wanted, unwanted = propose("demo-x10", **FACTS), propose("demo-x11", **FACTS)
    told = {each["slug"]: each["id"] for each in json.loads(command("proposals", "--json"))}
    assert told == {"demo-x10": str(wanted.pk), "demo-x11": str(unwanted.pk)}
    assert "demo-x10" in command("proposals")
    assert command("accept", str(wanted.pk)) == "listed: demo-x10"
    command("decline", str(unwanted.pk))
    entry = SensorModel.objects.get()
    assert (entry.slug, entry.rated_life_days, len(entry.licensed_sites)) == ("demo-x10", Decimal("10.5"), 2)
    assert proposals() == []
    assert command("proposals") == "none"
    for word in ("accept", "decline"):
        with pytest.raises(CommandError, match="no such proposal"):
            command(word, str(wanted.pk))


def test_a_proposal_made_twice_is_one_and_another_of_the_name_is_another():
    first = propose("demo-x10", **FACTS)
    assert propose("demo-x10", **FACTS) == first
    other = propose("demo-x10", **FACTS | {"rated_life_days": Decimal(14)})
    accept_proposal(other.pk)
    with pytest.raises(Conflict, match="listed already"):
        accept_proposal(first.pk)
    with pytest.raises(Conflict, match="name of its own"):
        propose("demo-x10", **FACTS)


@pytest.mark.parametrize(
    "name", ["demo", "demo-a", "Demo-a14", "a14", "anna-smith", "demo a14", "demo-a14-b-c", "é-a14"]
)
def test_a_proposed_name_has_the_form_of_one(name):
    with pytest.raises(Invalid) as refusal:
        propose(name, **FACTS)
    assert refusal.value.faults[0]["pointer"] == "#/slug"


def test_the_operators_list_has_an_end(monkeypatch):
    monkeypatch.setattr(catalogue, "MOST_PROPOSALS", 1)
    propose("demo-x10", **FACTS)
    with pytest.raises(Conflict, match="in a few weeks"):
        propose("demo-x11", **FACTS)
