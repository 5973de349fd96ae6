"""A question about rules is answered once a day, the same way each time, and never about fewer than k people."""

from datetime import date

import pytest

from server.core import jobs
from server.core.errors import Conflict
from server.groups.models import ProtocolPreview
from server.groups.previews import Counted, told_once
from server.groups.services import protocol_with

pytestmark = pytest.mark.django_db


@pytest.fixture
def ask(group, clock, settings):
    """Ask with some people waiting, of whom some meet the rules."""
    settings.FIRST_CUT_OFF = date(2031, 1, 1)

    def ask(n_people, n_meeting, **rules):
        told = told_once(group, protocol_with(group, **rules), lambda: Counted(n_people, n_meeting))
        return told.people_at_least, told.people_below

    return ask


@pytest.mark.parametrize(
    ("n_people", "n_meeting", "told"),
    [
        (0, 0, (None, None)),
        (4, 4, (None, None)),
        (5, 5, (5, 10)),
        (12, 12, (10, 20)),
        (12, 8, (10, 20)),  # four people left out are not told apart from none
        (12, 7, (5, 10)),
        (12, 5, (5, 10)),
        (12, 4, (None, None)),
        (35, 31, (30, 50)),
        (35, 29, (20, 30)),
    ],
)
def test_people_are_told_in_bands_and_neither_side_below_k(ask, n_people, n_meeting, told):
    assert ask(n_people, n_meeting, fewest_pairs=20) == told


def test_one_person_more_or_less_on_the_side_that_is_left_out_changes_nothing_below_k(ask, clock):
    """What a moderator who knows all but one member could otherwise learn about the one."""
    told = set()
    for day, n_left_out in enumerate(range(5), start=11):
        clock.set(date(2031, 2, day))
        told.add(ask(20, 20 - n_left_out, fewest_pairs=20 + n_left_out))
    assert told == {(20, 30)}


def test_the_same_question_has_the_same_answer_whatever_has_changed_until_the_next_cut_off(ask, clock):
    assert ask(12, 12, fewest_pairs=20) == (10, 20)
    assert ask(30, 30, fewest_pairs=20) == (10, 20)
    clock.set(date(2031, 2, 28))
    assert ask(30, 30, fewest_pairs=20) == (10, 20)
    clock.set(date(2031, 3, 1))
    jobs.sweepers()["previews of rules dropped"](date(2031, 3, 1))
    assert not ProtocolPreview.objects.exists()
    assert ask(30, 30, fewest_pairs=20) == (30, 50)


def test_another_question_waits_for_another_day_and_then_nobody_is_counted(ask, clock):
    def never():
        raise AssertionError("somebody was counted")

    ask(12, 12, fewest_pairs=20)
    group = ProtocolPreview.objects.get().group
    with pytest.raises(Conflict, match="once a day"):
        told_once(group, protocol_with(group, fewest_pairs=21), never)
    clock.set(date(2031, 2, 11))
    assert ask(12, 7, fewest_pairs=21) == (5, 10)


def test_the_higher_k_of_the_rules_in_question_holds(group, ask, stranger):
    from server.groups.selectors import everyone
    from server.groups.services import appoint_moderator, change_protocol

    appoint_moderator(everyone(), account=stranger.account)
    change_protocol(everyone(), by=stranger.account, k=9)
    assert ask(8, 8, k=9) == (None, None)
