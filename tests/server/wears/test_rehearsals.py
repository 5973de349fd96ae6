"""Of how many people something would count under other rules: what has waited since a cut-off, and nothing else."""

import pytest

from server.core.errors import Forbidden, Invalid, NotFound
from server.groups.models import Protocol
from server.groups.services import join_group
from server.wears.cutoff import mark_admitted, mark_waiting_slot
from server.wears.rehearsals import rehearse_rules
from server.wears.services import erase_due_pairs

pytestmark = pytest.mark.django_db


@pytest.fixture
def people(approve, group, new_member):
    """Five members with a long and a short wear each that wait, and five with a short one alone."""

    def member(seed, *n_pairs):
        one = new_member()
        join_group(group, account=one.account)
        return [approve(one, n_pairs=n, seed=seed + n) for n in n_pairs]

    wears = [member(100 * number, 30, 12) for number in range(5)]
    wears += [member(100 * number, 12) for number in range(5, 10)]
    mark_waiting_slot(slot=1)
    return wears


@pytest.mark.parametrize(
    ("rules", "told"),
    [
        ({}, 10),
        ({"fewest_pairs": 30}, 5),
        ({"fewest_pairs": 31}, None),
        ({"widest_gap_min": 3}, None),
        ({"accepted_sites": ["calf"]}, None),
        ({"accepted_meter_classes": ["within-15-pct"]}, 10),
    ],
)
def test_people_are_counted_whose_waiting_wears_would_meet_the_rules(people, group, moderator, rules, told):
    assert rehearse_rules(group, by=moderator.account, **rules).people_at_least == told
    assert Protocol.objects.filter(group=group).count() == 1


def test_what_is_counted_queued_or_newly_approved_is_looked_at_no_more_or_not_yet(
    people, group, moderator, new_member, give, approve
):
    mark_admitted([wears[0].id for wears in people[5:]], family="accuracy", end_bucket=24)
    for step, seed in ((give, 5001), (approve, 5002)):
        other = new_member()
        join_group(group, account=other.account)
        step(other, seed=seed)
    told = rehearse_rules(group, by=moderator.account, fewest_pairs=9)
    assert (told.people_at_least, told.people_below) == (5, 10)


def test_of_a_wear_without_readings_nobody_says_that_it_would_count(people, group, moderator):
    erase_due_pairs(today=people[0][0].pairs.erase_on)
    assert rehearse_rules(group, by=moderator.account).people_at_least is None


def test_it_is_for_moderators_and_for_rules_that_could_be_written(group, moderator, contributor, stranger):
    for member, refusal in ((contributor, Forbidden), (stranger, NotFound)):
        with pytest.raises(refusal):
            rehearse_rules(group, by=member.account, fewest_pairs=9)
    with pytest.raises(Invalid):
        rehearse_rules(group, by=moderator.account, fewest_pairs=7)
