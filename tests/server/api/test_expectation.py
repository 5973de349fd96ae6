"""The own estimate over HTTP: for whoever is signed in, about their own wears alone."""

import pytest

from pooling.caution import CAUTION_VERSION
from server.accounts.services import add_wearer

pytestmark = pytest.mark.django_db
ADDRESS = "/api/v1/groups/hill-walkers/expectation/"


def test_own_wears_and_the_pool_speak_together(edition, contributor, upload):
    upload(contributor, site="thigh.front", seed=1)
    upload(contributor, site="calf", seed=2)
    answer = contributor.api.get(f"{ADDRESS}?site=thigh.front&sensor_model=demo-a14")
    told = answer.json()
    assert (answer.status_code, answer["Cache-Control"]) == (200, "no-store")
    assert told["caution"]["version"] == CAUTION_VERSION
    assert (told["n_own_wears"], told["n_own_wears_here"]) == (2, 1)
    assert told["mard_pct"]["lower"] < told["mard_pct"]["value"] < told["mard_pct"]["upper"]
    assert told["own_share_pct"]["mard"] > 0
    assert told["basis"] == "starter"
    assert told["sources"]


def test_another_body_is_named_in_the_header(edition, contributor, upload):
    other = add_wearer(contributor.account, relation="other", age_class="adult")
    upload(contributor, seed=1)
    answer = contributor.api.get(f"{ADDRESS}?site=calf", HTTP_WEARER=str(other.pk))
    assert answer.json()["n_own_wears"] == 0
    assert contributor.api.get(f"{ADDRESS}?site=calf", HTTP_WEARER="me").status_code == 422


def test_it_needs_an_account_a_group_and_a_site(edition, contributor, api):
    assert api.get(f"{ADDRESS}?site=calf").status_code == 401
    assert contributor.api.get(ADDRESS).status_code == 422
    assert contributor.api.get("/api/v1/groups/nobody/expectation/?site=calf").status_code == 404
