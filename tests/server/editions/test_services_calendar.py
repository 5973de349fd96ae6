"""Drafts by the calendar: one for each group and cut-off, whoever else is at it, and none that is overtaken."""

from datetime import date

from server.core.models import Job
from server.core.services import sweep
from server.editions.auditing import _shown
from server.editions.models import Draft, DraftState, Edition
from server.editions.services import discard_overtaken_drafts, publish_draft, start_draft, start_due_drafts
from server.groups.services import change_protocol
from tests.server.editions.conftest import FLANK, THIGH

MARCH, APRIL = date(2031, 3, 1), date(2031, 4, 1)


def drafted():
    return sorted(Draft.objects.values_list("group__slug", "slot_id", "state"))


def test_each_group_with_something_to_show_is_drafted_once_a_cut_off(sealed):
    sealed.found("moor")  # nothing of it was counted
    assert start_due_drafts(MARCH) == ("everyone", "harbour")
    jobs = Job.objects.count()
    assert start_due_drafts(MARCH) == ()
    assert Job.objects.count() == jobs
    assert drafted() == [("everyone", 1, "fitting"), ("harbour", 1, "fitting")]


def test_the_sweep_passes_a_cut_off_and_starts_the_drafts_that_follow(pool):
    pool.wears(pool.members(6), THIGH, FLANK)
    pool.clock.set(MARCH)
    sweep()
    sweep()
    assert drafted() == [("everyone", 1, "fitting"), ("harbour", 1, "fitting")]
    pool.run_due_jobs()
    assert {state for *_, state in drafted()} == {"ready"}


def test_a_second_sweep_that_had_looked_before_starts_no_second_draft(sealed, monkeypatch):
    from server.editions import services
    from server.editions.scopes import groups_without_draft
    from server.editions.slots import latest_sealed_slot

    seen = groups_without_draft(latest_sealed_slot())
    assert start_due_drafts(MARCH)
    monkeypatch.setattr(services, "groups_without_draft", lambda slot: seen)
    assert start_due_drafts(MARCH) == ()
    assert len(drafted()) == 2


def test_what_a_moderator_started_or_discarded_is_left_alone(sealed):
    draft = start_draft(sealed.group, by=sealed.moderator.account)
    assert start_due_drafts(MARCH) == ("everyone",)
    sealed.discard(draft)
    assert start_due_drafts(MARCH) == ()


def test_what_is_published_is_not_drafted_again(sealed):
    publish_draft(sealed.group, sealed.draft().pk, by=sealed.moderator.account)
    Draft.objects.all().delete()
    assert start_due_drafts(MARCH) == ("everyone",)


def test_nothing_is_started_while_a_cut_off_is_due_or_when_moderators_do_it_themselves(sealed, settings):
    assert start_due_drafts(APRIL) == ()
    settings.DRAFTS_BY_CALENDAR = False
    assert start_due_drafts(MARCH) == ()


def test_nothing_is_started_before_the_first_cut_off(pool):
    assert start_due_drafts(date(2031, 2, 1)) == ()
    assert discard_overtaken_drafts(date(2031, 2, 1)) == 0


def test_rooms_and_dates_that_are_none_of_the_group_s_are_passed_over(sealed):
    change_protocol(sealed.group, by=sealed.moderator.account, months_between_editions=2)
    assert start_due_drafts(MARCH) == ("everyone",)
    sealed.cut_off(2)
    change_protocol(sealed.group, by=sealed.moderator.account, room=True)
    assert start_due_drafts(APRIL) == ("everyone",)
    change_protocol(sealed.group, by=sealed.moderator.account, room=False)
    assert start_due_drafts(APRIL) == ("harbour",)


def test_overtaken_drafts_are_discarded_with_the_reason_and_nothing_is_lost(sealed):
    ready = sealed.draft()
    fitting = start_draft(sealed.everyone, by=_moderator_of_everyone(sealed))
    shown = _shown()
    assert shown
    assert discard_overtaken_drafts(MARCH) == 0
    sealed.cut_off(2)
    assert discard_overtaken_drafts(APRIL) == 2
    for draft in (ready, fitting):
        draft.refresh_from_db()
        assert (draft.state, draft.document, draft.certificate) == (DraftState.DISCARDED, None, None)
        assert "A later cut-off has passed" in draft.reasons[0]
    assert _shown() == shown, "what was seen stays in every audit"
    again = sealed.draft()
    assert publish_draft(sealed.group, again.pk, by=sealed.moderator.account).number == 2
    assert Edition.objects.count() == 1


def _moderator_of_everyone(pool):
    from server.groups.services import appoint_moderator

    appoint_moderator(pool.everyone, account=pool.moderator.account)
    return pool.moderator.account
