"""Taking an edition back: for a reason of the list, by as many people as the rules ask for, and for good."""

from datetime import date

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from server.core.errors import Conflict, Forbidden, Gone, Invalid, NotFound
from server.editions.auditing import _shown
from server.editions.models import Edition, Retraction
from server.editions.retracting import REASONS, retract_edition, withdraw_retraction
from server.editions.selectors import edition_for_reader, editions_list
from tests.server.editions.printed import printed


@pytest.fixture
def edition(group, clock):
    return printed(group)


def test_one_moderator_takes_it_back_where_nobody_else_is_asked_for(group, moderator, edition):
    done = retract_edition(group, 1, reason="wrong_data", by=moderator.account)
    assert (done.retracted_month, done.proposer_mark) == (date(2031, 2, 1), "")
    with pytest.raises(Gone, match="wears that should not have been counted") as caught:
        edition_for_reader("harbour", 1, None)
    assert (caught.value.status, caught.value.reason) == (410, "wrong_data")
    with pytest.raises(Conflict, match="taken back already"):
        retract_edition(group, 1, reason="privacy", by=moderator.account)


def test_its_row_stays_and_so_does_its_place_in_every_later_audit(group, moderator):
    records = ["00000000-0000-4000-8000-000000000001"]
    made = printed(group)
    Edition.objects.filter(pk=made.pk)._raw_delete(using="default")  # only to write it anew with what it rests on
    made.rests_on, made._state.adding = {"accuracy|calf|*": records}, True
    made.save()
    before = _shown()
    retract_edition(group, 1, reason="privacy", by=moderator.account)
    assert _shown() == before != set()
    assert bytes(Edition.objects.get().document) == bytes(made.document)


def test_the_latest_is_the_newest_that_stands_and_the_list_says_what_was_taken_back(group, moderator, edition):
    printed(group, 2)
    retract_edition(group, 2, reason="wrong_computation", by=moderator.account)
    assert edition_for_reader("harbour", "latest", None).number == 1
    lines = editions_list("harbour", None)
    assert [(line.number, line.retracted and line.retracted.reason) for line in lines] == [
        (2, "wrong_computation"),
        (1, None),
    ]
    retract_edition(group, 1, reason="privacy", by=moderator.account)
    with pytest.raises(NotFound):
        edition_for_reader("harbour", "latest", None)


def test_where_two_are_asked_for_one_proposes_and_another_confirms(
    group, moderator, second_moderator, two_people, edition
):
    proposed = retract_edition(group, 1, reason="privacy", by=moderator.account)
    assert proposed.retracted_month is None
    assert edition_for_reader("harbour", 1, None).number == 1
    assert editions_list("harbour", None)[0].retracted is None
    with pytest.raises(Conflict, match="You proposed this"):
        retract_edition(group, 1, reason="privacy", by=moderator.account)
    with pytest.raises(Conflict, match="proposed as privacy"):
        retract_edition(group, 1, reason="wrong_data", by=second_moderator.account)
    assert retract_edition(group, 1, reason="privacy", by=second_moderator.account).retracted_month
    assert Retraction.objects.get().proposer_mark == ""


def test_a_proposal_can_be_withdrawn_and_what_is_in_effect_cannot(
    group, moderator, second_moderator, two_people, edition
):
    with pytest.raises(Conflict, match="no proposal"):
        withdraw_retraction(group, 1, by=moderator.account)
    retract_edition(group, 1, reason="privacy", by=moderator.account)
    withdraw_retraction(group, 1, by=second_moderator.account)
    assert not Retraction.objects.exists()
    retract_edition(group, 1, reason="wrong_data", by=second_moderator.account)
    retract_edition(group, 1, reason="wrong_data", by=moderator.account)
    with pytest.raises(Conflict, match="stays so"):
        withdraw_retraction(group, 1, by=moderator.account)


def test_a_reason_is_one_of_the_list(group, moderator, edition):
    with pytest.raises(Invalid) as caught:
        retract_edition(group, 1, reason="because of Ann", by=moderator.account)
    assert caught.value.faults[0]["pointer"] == "#/reason"
    assert all(reason in caught.value.faults[0]["message"] for reason in REASONS)


def test_only_moderators_of_the_group_may(group, contributor, stranger, member_of_another_group, edition):
    for by, refused in ((contributor, Forbidden), (stranger, NotFound), (member_of_another_group, NotFound)):
        with pytest.raises(refused):
            retract_edition(group, 1, reason="privacy", by=by.account)
        with pytest.raises(refused):
            withdraw_retraction(group, 1, by=by.account)
    assert not Retraction.objects.exists()


def test_an_edition_that_is_not_there_is_not_found(group, moderator):
    with pytest.raises(NotFound):
        retract_edition(group, 1, reason="privacy", by=moderator.account)


def test_the_operator_takes_back_alone_also_what_a_moderator_only_proposed(
    group, moderator, two_people, edition, capsys
):
    retract_edition(group, 1, reason="privacy", by=moderator.account)
    call_command("retract", "harbour", "1", "--reason", "wrong_data")
    assert capsys.readouterr().out == "taken back: edition 1 of harbour\n"
    assert Retraction.objects.get().reason == "wrong_data"
    for words in (["harbour", "1"], ["harbour", "2"], ["nowhere", "1"]):
        with pytest.raises(CommandError):
            call_command("retract", *words, "--reason", "privacy")
