from datetime import date
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction

from server.curation.models import BY_OWNERS, OF_FIGURES, Action, Decision, Told
from server.curation.services import approve_wear

pytestmark = pytest.mark.django_db


@pytest.fixture
def decision(give, contributor, group, moderator):
    return approve_wear(group, give(contributor).id, by=moderator.account)


def test_a_decision_names_no_account_and_no_clock_time(decision, moderator):
    row = Decision.objects.filter(pk=decision.pk).values().get()
    assert str(moderator.account.id) not in str(row)
    assert decision.on_month.day == 1


REASONS = {"copied", "duplicate"}
BELONGS = {
    "approve": {""},
    "undo": {""},
    "exclude": REASONS,
    "close": REASONS,
    "ask": {"site", "readings"},
    "answer": {"confirmed", "wrong"},
    "appeal": {"rules_kept"},
    "propose": {"", "privacy"},
    "publish": {""},
    "retract": {"privacy"},
}


def written(group, **changes):
    """A decision put past every rule of the services, as far as the database lets it."""
    row = {"number": 2, "action": "approve", "code": "", **changes}
    about = {"wear_mark": uuid4().hex}
    if row["action"] == Action.CLOSE:
        about = {"closes": "calf|demo-a14|24|skin"}
    elif row["action"] in OF_FIGURES:
        about = {"figures": 3}
    about["moderator_mark"] = "" if row["action"] in BY_OWNERS else "5e" * 16
    Decision.objects.bulk_create(
        [Decision(group=group, protocol_version=1, on_month=date(2031, 2, 1), **{**about, **row})]
    )


@pytest.mark.parametrize("action", list(Action))
@pytest.mark.parametrize(
    "code", ["", "copied", "duplicate", "site", "readings", "confirmed", "wrong", "rules_kept", "privacy"]
)
def test_the_database_takes_a_code_with_the_action_that_it_belongs_to_alone(group, action, code):
    if code in BELONGS[action]:
        written(group, action=action, code=code)
        return
    with pytest.raises(IntegrityError), transaction.atomic():
        written(group, action=action, code=code)


@pytest.mark.parametrize(("action", "code", "mark"), [("answer", "wrong", "5e" * 16), ("approve", "", "")])
def test_the_database_asks_for_a_mark_of_moderators_and_takes_none_of_owners(group, action, code, mark):
    with pytest.raises(IntegrityError), transaction.atomic():
        written(group, action=action, code=code, moderator_mark=mark)


def test_what_owners_were_told_is_one_number_a_group(group):
    Told.objects.create(group=group, number=3)
    assert str(Told.objects.get()) == "told up to 3"


@pytest.mark.parametrize(
    "change",
    [
        {"closes": "calf|demo-a14|24|skin"},
        {"wear_mark": ""},
        {"action": "close", "code": "stuck", "closes": ""},
        {"action": "close", "code": "stuck", "wear_mark": "5e" * 16},
        {"figures": 3},
        {"action": "publish", "figures": None},
        {"action": "publish", "wear_mark": "5e" * 16},
    ],
    ids=str,
)
def test_the_database_keeps_decisions_about_wears_sums_and_figures_apart(group, change):
    with pytest.raises(IntegrityError), transaction.atomic():
        written(group, **change)


@pytest.mark.parametrize("change", [{"action": "burn"}, {"action": "exclude", "code": "dislike"}, {"number": 0}])
def test_the_database_refuses_what_is_on_no_list(group, change):
    with pytest.raises(IntegrityError), transaction.atomic():
        written(group, **change)


def test_a_number_is_given_once_a_group(decision, group):
    with pytest.raises(IntegrityError), transaction.atomic():
        written(group, number=decision.number)
    written(group, number=decision.number + 1)
