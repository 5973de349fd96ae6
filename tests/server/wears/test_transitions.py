"""Every pair of states, against the steps as the life of a wear is described; the database against the same table."""

from itertools import product

import pytest
from django.db import IntegrityError, transaction

from server.wears.models import Wear
from server.wears.transitions import GIVEN, NEW, STATES, STEPS, State, allowed

# Written out once more, so that a slip in the table is seen: upload, giving, asking and answering, decisions, undoing
# them or appealing, taking back, and counting.
DESCRIBED = {
    ("", "private"),
    ("private", "queued"),
    ("queued", "asked"),
    ("asked", "queued"),
    ("queued", "approved"),
    ("queued", "excluded"),
    ("approved", "queued"),
    ("excluded", "queued"),
    ("queued", "private"),
    ("asked", "private"),
    ("approved", "private"),
    ("excluded", "private"),
    ("approved", "admitted"),
}
EVERY_PAIR = list(product(("", *STATES), STATES))


@pytest.mark.parametrize(("previous", "state"), EVERY_PAIR)
def test_exactly_the_described_steps_are_allowed(previous, state):
    assert allowed(previous, state) == ((previous, state) in DESCRIBED)


@pytest.mark.django_db
@pytest.mark.parametrize(("previous", "state"), EVERY_PAIR)
def test_the_database_takes_exactly_the_described_steps(upload, contributor, group, previous, state):
    wear = upload(contributor)
    change = {
        "previous_state": previous,
        "state": state,
        "group": None if state == State.PRIVATE else group,
        "first_end_bucket": 24 if state == State.ADMITTED else None,
        "end_bucket": 24 if state == State.ADMITTED else None,
    }
    try:
        with transaction.atomic():
            Wear.objects.filter(pk=wear.pk).update(**change)
        taken = True
    except IntegrityError:
        taken = False
    assert taken == ((previous, state) in DESCRIBED)


@pytest.mark.django_db
@pytest.mark.parametrize("state", [state for state in STATES if state not in ("queued", "private")])
def test_the_database_refuses_to_jump(upload, contributor, group, state):
    wear = upload(contributor)
    end = 24 if state == State.ADMITTED else None
    with pytest.raises(IntegrityError), transaction.atomic():
        Wear.objects.filter(pk=wear.pk).update(
            previous_state=wear.state, state=state, group=group, first_end_bucket=end, end_bucket=end
        )


def test_an_admitted_wear_takes_no_step_any_more_and_every_other_state_can_be_left():
    assert STEPS[State.ADMITTED] == ()
    assert all(STEPS[state] for state in STEPS if state != State.ADMITTED)


def test_what_is_given_can_be_taken_back_to_private():
    assert {state for state in STATES if allowed(state, State.PRIVATE)} == set(GIVEN)
    assert allowed(NEW, State.PRIVATE)
