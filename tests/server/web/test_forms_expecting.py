import pytest

from server.web.forms_expecting import ExpectForm

pytestmark = pytest.mark.django_db


def test_what_is_none_of_the_choices_is_refused(catalogue):
    told = {"wearer": "w", "site": "nose", "group": "g"}
    form = ExpectForm(told, wearers={"w": "me"}, groups=[])
    assert not form.is_valid()
    assert set(form.errors) == {"site", "group"}
