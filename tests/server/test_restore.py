"""An older copy of the database is put back, and the journal replayed: what had been erased or ended is so again."""

import pytest
from django.core.management import CommandError, call_command
from django.db import transaction

from server.accounts.consents import CONSENT_VERSION
from server.accounts.models import Account, Holding, Plan
from server.accounts.plans import drop_plan, register_plan
from server.accounts.selectors import has_consented
from server.accounts.services import close_account, record_consent
from server.core import journal
from server.core.models import Erasure
from server.groups.selectors import is_member
from server.groups.services import join_group, leave_group
from server.wears.models import Wear
from server.wears.services import erase_wear, give_to_group, take_back
from server.wears.transitions import State


@pytest.fixture
def put_back(db, settings, tmp_path):
    """Do something, then let the database stand again as before it; the journal keeps what was noted."""
    settings.ERASURE_JOURNAL = tmp_path / "erasures.journal"

    def after(*acts):
        copy = transaction.savepoint()
        for act in acts:
            act()
        journal.write_out()
        transaction.savepoint_rollback(copy)

    return after


def test_an_erased_wear_is_erased_again_and_no_other(put_back, contributor, upload):
    gone, stays = upload(contributor, seed=1), upload(contributor, seed=2)
    put_back(lambda: erase_wear(gone.pk, account=contributor.account))
    assert Wear.objects.count() == 2
    assert journal.replay_if_ahead()["erased-wear"] == 1
    assert list(Wear.objects.values_list("pk", flat=True)) == [stays.pk]
    assert list(Holding.objects.values_list("wear_id", flat=True)) == [stays.pk]


def test_a_closed_account_is_closed_again_with_its_wears(put_back, contributor, stranger, upload):
    upload(contributor)
    put_back(lambda: close_account(contributor.account))
    assert journal.replay_if_ahead()["closed-account"] == 1
    assert not Wear.objects.exists()
    assert not Account.objects.filter(pk=contributor.account.pk).exists()
    assert Account.objects.filter(pk=stranger.account.pk).exists()


def test_a_member_who_left_is_out_again_and_what_waited_is_private(put_back, contributor, approve, group):
    wear = approve(contributor)
    put_back(lambda: leave_group(group, account=contributor.account))
    assert journal.replay_if_ahead()["left-group"] == 1
    wear.refresh_from_db()
    assert not is_member(group, contributor.account)
    assert (wear.state, wear.group) == (State.PRIVATE, None)


def test_who_came_back_stays(put_back, contributor, give, group):
    wear = give(contributor)
    account = contributor.account
    put_back(
        lambda: leave_group(group, account=account),
        lambda: join_group(group, account=account),
        lambda: give_to_group(wear.pk, account=account, group=group),
    )
    done = journal.replay_if_ahead()
    assert (done["left-group"], done["taken-back"]) == (0, 0)
    wear.refresh_from_db()
    assert is_member(group, account)
    assert wear.state == State.QUEUED


def test_a_wear_taken_back_is_taken_back_again(put_back, contributor, approve):
    wear = approve(contributor)
    put_back(lambda: take_back(wear.pk, account=contributor.account))
    assert journal.replay_if_ahead()["taken-back"] == 1
    wear.refresh_from_db()
    assert wear.state == State.PRIVATE


def test_a_switch_turned_off_is_off_again(put_back, contributor, stranger):
    def turn(given):
        record_consent(contributor.account, scope="pool", given=given, text_version=CONSENT_VERSION)

    put_back(lambda: turn(False), lambda: turn(True), lambda: turn(False))
    assert journal.replay_if_ahead()["switched-off"] == 1
    assert not has_consented(contributor.account, "pool")
    assert has_consented(contributor.account, "keep")
    assert has_consented(stranger.account, "pool")


def test_a_switch_turned_off_and_on_stays_on(put_back, contributor):
    def turn(given):
        record_consent(contributor.account, scope="pool", given=given, text_version=CONSENT_VERSION)

    put_back(lambda: turn(False), lambda: turn(True))
    assert journal.replay_if_ahead()["switched-off"] == 0
    assert has_consented(contributor.account, "pool")


def test_a_plan_that_was_dropped_is_dropped_again_and_no_other(put_back, contributor, catalogue):
    asked = {"spots": [{"site": "calf"}, {"site": "thigh.front"}], "sensor_model": "demo-a14"}
    wearer = contributor.account.wearers.get()
    gone, stays = (register_plan(contributor.account, asked, wearer=wearer) for _ in range(2))
    put_back(lambda: drop_plan(gone.pk, account=contributor.account))
    assert Plan.objects.count() == 2
    assert journal.replay_if_ahead()["dropped-plan"] == 1
    assert list(Plan.objects.values_list("pk", flat=True)) == [stays.pk]


def test_everybody_has_to_sign_in_again(put_back, contributor, upload):
    wear = upload(contributor)
    put_back(lambda: erase_wear(wear.pk, account=contributor.account))
    assert contributor.api.get("/api/v1/wears/").status_code == 200
    journal.replay_if_ahead()
    assert contributor.api.get("/api/v1/wears/").status_code == 401


def test_the_command_says_what_it_did(put_back, contributor, upload, capsys):
    wear = upload(contributor)
    put_back(lambda: erase_wear(wear.pk, account=contributor.account))
    call_command("replay")
    assert "erased-wear: 1" in capsys.readouterr().out
    assert not journal.is_ahead()


def test_without_a_journal_the_command_refuses(put_back):
    with pytest.raises(CommandError, match="no erasure journal"):
        call_command("replay")
    assert not Erasure.objects.exists()
