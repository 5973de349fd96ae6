import pytest

from server.web.moderating.forms import FoundForm, RulesForm
from tests.server.web.moderating.test_founding import TOLD


def test_a_group_is_told_as_the_service_takes_it():
    form = FoundForm(TOLD | {"sites": "1"})
    assert form.is_valid()
    assert (form.as_told["public"], form.as_told["feeds_everyone"]) == (False, True)
    assert form.as_told["expected"] == {"members": 12, "wears_a_month": 10, "sites": 1, "sites_a_member": 1}


@pytest.mark.django_db
def test_nothing_ticked_takes_them_all(catalogue):
    form = RulesForm({"accepted_sites": [], "accepted_models": [catalogue[0]]})
    form.full_clean()
    assert (form.as_told["accepted_sites"], form.as_told["accepted_models"]) == (None, [catalogue[0]])
