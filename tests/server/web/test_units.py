import pytest
from django.test import RequestFactory

from server.web.units import COOKIE, unit_of


@pytest.mark.parametrize(("kept", "unit"), [(None, "mg/dL"), ("mmol/L", "mmol/L"), ("stones", "mg/dL")])
def test_only_a_known_unit_is_believed(kept, unit):
    request = RequestFactory().get("/")
    if kept:
        request.COOKIES[COOKIE] = kept
    assert unit_of(request) == unit
