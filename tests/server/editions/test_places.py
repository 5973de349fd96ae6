"""What an owner is told of the sums that may count a wear: which they are, and that moderators ended some early."""

from server.accounts.holdings import labels_of
from server.editions.models import RecordKind, SealedRecord
from server.editions.places import outcomes_ended_early, places_under
from tests.server.editions.conftest import FLANK, THIGH

MODEL = "demo-a14"


def test_labels_lead_to_their_places_and_to_no_value(sealed):
    labels = labels_of(sealed.crowd[0].account)
    told = places_under(labels)
    assert [place["label"] for place in told] == sorted(labels)
    assert {place["place"] for place in told if place["sums_of"] == RecordKind.BLOCK} == {THIGH, FLANK}
    assert not {"payload", "sums"} & told[0].keys()
    assert places_under([]) == []


def test_what_was_ended_early_is_told_of_all_that_a_place_could_hold(sealed):
    labels = labels_of(sealed.crowd[0].account)
    assert outcomes_ended_early(labels, site=THIGH, sensor_model=MODEL) == []
    SealedRecord.objects.filter(place=THIGH, family="accuracy").update(payload=None)
    assert outcomes_ended_early(labels, site=THIGH, sensor_model=MODEL) == ["accuracy"]
    assert outcomes_ended_early(labels, site=FLANK, sensor_model=MODEL) == []
    assert outcomes_ended_early(labels, site=THIGH, sensor_model="demo-b10") == []
