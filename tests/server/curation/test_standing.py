"""What owners see of moderators' work, and when."""

import pytest

from server.curation import services, standing
from server.curation.replies import answer_question
from server.wears import cutoff

pytestmark = pytest.mark.django_db


def seen(wear):
    wear.refresh_from_db()
    return standing.standing_of(wear)


def test_a_question_is_seen_at_once_with_what_can_be_answered(give, contributor, group, moderator):
    wear = give(contributor)
    assert seen(wear) == standing.Standing(None, None)
    services.ask_owner(group, wear.id, question="site", by=moderator.account)
    asked = seen(wear).asked
    assert (asked.code, asked.recorded) == ("site", "thigh.front")
    assert asked.answers == ("confirmed", "corrected", "not_known")
    assert "site" in asked.words
    answer_question(wear.id, account=contributor.account, answer="confirmed")
    assert seen(wear).asked is None


def test_a_question_that_is_no_tag_tells_no_value_of_the_record(give, contributor, group, moderator):
    wear = give(contributor)
    services.ask_owner(group, wear.id, question="columns", by=moderator.account)
    assert (seen(wear).asked.recorded, seen(wear).asked.answers[1]) == (None, "wrong")


def test_a_reason_is_seen_on_the_next_edition_date_in_plain_words(give, contributor, group, moderator):
    wear = give(contributor)
    services.exclude_wear(group, wear.id, code="swapped", by=moderator.account)
    assert seen(wear).left_out is None
    assert standing.decisions_about_wears_of(contributor.account) == []
    cutoff.show_states()
    left_out = seen(wear).left_out
    assert (left_out.code, left_out.may_appeal, left_out.what_now) == ("swapped", True, standing.LEFT_OUT)
    assert "swapped" in left_out.words
    (told,) = standing.decisions_about_wears_of(contributor.account)
    assert (told["wear"], told["action"], told["code"]) == (wear.id, "exclude", "swapped")


def test_that_somebody_gave_the_same_readings_is_told_to_no_owner(give, contributor, group, moderator):
    wear = give(contributor)
    services.exclude_wear(group, wear.id, code="duplicate", by=moderator.account)
    cutoff.show_states()
    assert seen(wear).left_out.code == "not_believable"
    assert standing.decisions_about_wears_of(contributor.account)[0]["code"] == "not_believable"


def test_the_words_about_a_wear_that_counts_say_that_it_stays(approve, contributor, group, moderator):
    wear = approve(contributor)
    cutoff.mark_waiting_slot(slot=1)
    cutoff.mark_admitted([wear.id], family="accuracy", end_bucket=24)
    cutoff.show_states()
    services.exclude_wear(group, wear.id, code="stuck", by=moderator.account)
    assert seen(wear).left_out is None
    cutoff.show_states()
    left_out = seen(wear).left_out
    assert (left_out.what_now, left_out.may_appeal) == (standing.STAYS_COUNTED, True)
    assert "nothing more" in left_out.what_now


def test_a_wear_given_anew_starts_without_what_was_decided_before(give, contributor, group, moderator):
    from server.wears.services import give_to_group, take_back

    wear = give(contributor)
    services.exclude_wear(group, wear.id, code="stuck", by=moderator.account)
    cutoff.show_states()
    take_back(wear.id, account=contributor.account)
    assert seen(wear) == standing.Standing(None, None)
    give_to_group(wear.id, account=contributor.account, group=group)
    assert seen(wear) == standing.Standing(None, None)
