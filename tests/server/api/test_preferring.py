"""The header Prefer: RFC 7240, section 2 (from memory), whose grammar allows blanks, quotation marks and parameters."""

import pytest
from rest_framework.test import APIRequestFactory

from server.api.preferring import MINIMAL, prefers


def preferring(stated):
    return prefers(APIRequestFactory().post("/", headers={"Prefer": stated}), MINIMAL)


@pytest.mark.parametrize(
    "stated",
    [
        "return=minimal",
        'Return = "minimal"; a=b',
        "respond-async, wait=10, return=minimal",
        "return=minimal, return=representation",
    ],
)
def test_a_preference_is_found_among_others(stated):
    assert preferring(stated)


@pytest.mark.parametrize(
    "stated", ["", "return", "return=representation", "return=representation, return=minimal", "handling=minimal"]
)
def test_what_is_not_stated_first_is_not_preferred(stated):
    assert not preferring(stated)
