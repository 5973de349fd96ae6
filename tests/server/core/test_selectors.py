import json

import pytest

from pooling.caution import CAUTION_TEXT, CAUTION_VERSION
from server.core import selectors
from server.core.models import SensorModel


def test_the_caution_is_the_one_of_pooling():
    assert selectors.caution() == {"version": CAUTION_VERSION, "text": CAUTION_TEXT}
    assert "\n".join(selectors.caution_paragraphs()["paragraphs"]) == CAUTION_TEXT


def test_the_vocabulary_can_be_sent_and_labels_every_site():
    words = json.loads(json.dumps(selectors.vocabulary()))
    assert {site for sites in words["regions"].values() for site in sites} == set(words["labels"])
    assert "thigh.front" in words["labels"]
    assert words["glucose_units"] == ["mg/dL", "mmol/L"]


@pytest.mark.django_db
def test_a_closed_model_is_listed_and_not_to_be_named():
    SensorModel.objects.create(slug="demo-a14", rated_life_days=14)
    SensorModel.objects.create(slug="demo-b10", rated_life_days=10, open=False)
    assert [model.slug for model in selectors.sensor_models()] == ["demo-a14", "demo-b10"]
    assert selectors.sensor_model_slugs() == {"demo-a14"}


@pytest.mark.django_db
def test_licensed_sites_come_with_their_ages():
    SensorModel.objects.create(slug="demo-a14", rated_life_days=14, licensed_sites=[{"site": "calf", "ages": "adult"}])
    assert selectors.licensed_sites("demo-a14") == [("calf", "adult")]
