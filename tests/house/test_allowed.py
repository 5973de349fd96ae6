"""Each call about a group stands in the table of who may make it, so that none is added without a thought to that."""

from server.api.urls import urlpatterns
from tests.server.api.allowed import ALLOWED, CAST

METHODS = ("get", "post", "put", "patch", "delete")


def calls_about_groups():
    return {
        f"{method.upper()} {route.pattern}"
        for route in urlpatterns
        if "group" in str(route.pattern)
        for method in METHODS
        if hasattr(route.callback.cls, method)
    }


def test_every_call_about_a_group_is_in_the_table_and_no_other():
    made = calls_about_groups()
    assert {"no row": made - set(ALLOWED), "no call": set(ALLOWED) - made} == {"no row": set(), "no call": set()}


def test_a_row_says_what_each_of_the_cast_gets():
    assert {len(row.answers) for row in ALLOWED.values()} == {len(CAST)}
