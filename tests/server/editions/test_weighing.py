"""Weighing the sites of a published edition: same bytes and weights, same answer; faults have a place."""

import pytest

from server.core.errors import Invalid, NotFound
from server.editions.weighing import weigh_sites
from server.groups.models import Group

WEIGHTS = {"accuracy": 3, "comfort": 1}


def test_the_newest_edition_is_weighed_and_named(edition):
    weighed = weigh_sites("hill-walkers", WEIGHTS, None)
    assert (weighed.number, weighed.sha256) == (7, edition.sha256)
    assert [chance.site for chance in weighed.choice.sites] == ["upper_arm.back", "thigh.front"]
    assert weighed == weigh_sites("hill-walkers", WEIGHTS, None, number=7)


def test_only_those_who_may_read_the_edition_may_weigh_it(edition, stranger):
    for slug, number in (("hill-walkers", 8), ("nobody", "latest")):
        with pytest.raises(NotFound):
            weigh_sites(slug, WEIGHTS, None, number=number)
    Group.objects.filter(slug="hill-walkers").update(public=False)
    with pytest.raises(NotFound):
        weigh_sites("hill-walkers", WEIGHTS, stranger.account)


def test_every_fault_of_the_weights_is_named(edition):
    with pytest.raises(Invalid) as refused:
        weigh_sites("hill-walkers", {"colour": 1, "accuracy": -1, "skin": float("nan"), "ease": 5000}, None)
    assert [fault["pointer"] for fault in refused.value.faults] == [
        "#/weights/colour",
        "#/weights/accuracy",
        "#/weights/skin",
        "#/weights/ease",
    ]
    with pytest.raises(Invalid) as refused:
        weigh_sites("hill-walkers", {"accuracy": 0}, None)
    assert [fault["pointer"] for fault in refused.value.faults] == ["#/weights"]
