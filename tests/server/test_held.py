import pytest

from server.api.exported import EXPORTED
from server.held import everything_about

pytestmark = pytest.mark.django_db


def test_it_has_a_part_for_everything_that_is_said_to_be_in_it(contributor):
    held = everything_about(contributor.account)
    assert {place.split(".")[0] for place in EXPORTED.values()} <= held.keys()
    assert [membership["group"] for membership in held["groups"]] == ["harbour"]
