import pytest
from django.http import HttpResponse
from django.test import RequestFactory

from server.web.units import remember_unit, unit_of

COOKIE = "unit"


@pytest.mark.parametrize(("kept", "unit"), [(None, "mg/dL"), ("mmol/L", "mmol/L"), ("stones", "mg/dL")])
def test_only_a_known_unit_is_believed(kept, unit):
    request = RequestFactory().get("/")
    if kept:
        request.COOKIES[COOKIE] = kept
    assert unit_of(request) == unit


@pytest.mark.parametrize(("chosen", "kept"), [("mmol/L", True), ("stones", False), ("", False)])
def test_only_a_known_unit_is_remembered(chosen, kept):
    answer = HttpResponse()
    remember_unit(answer, chosen)
    assert (COOKIE in answer.cookies) == kept
