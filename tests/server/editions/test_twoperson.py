"""Who may finish what: the second person, or anybody where nobody else is asked for."""

import pytest

from server.core.errors import Conflict
from server.editions.twoperson import is_settled, proposer_mark


def test_nobody_else_is_asked_for_unless_the_rules_say_so(group, moderator):
    assert is_settled(group, proposed_by="", by=moderator.account)


def test_the_first_proposes_and_another_one_settles(group, moderator, second_moderator, two_people):
    mark = proposer_mark(moderator.account)
    assert not is_settled(group, proposed_by="", by=moderator.account)
    assert is_settled(group, proposed_by=mark, by=second_moderator.account)
    with pytest.raises(Conflict, match="Another moderator"):
        is_settled(group, proposed_by=mark, by=moderator.account)


def test_a_mark_leads_to_no_account_and_is_known_under_a_later_key(group, moderator, two_people, settings):
    mark = proposer_mark(moderator.account)
    assert moderator.account.pk.hex not in mark
    settings.KEYS = type(settings.KEYS)(settings.KEYS.secret_key, (*settings.KEYS.mac_keys, "7a" * 32))
    assert proposer_mark(moderator.account) != mark
    with pytest.raises(Conflict):
        is_settled(group, proposed_by=mark, by=moderator.account)


def test_the_operator_needs_nobody(group, two_people):
    assert is_settled(group, proposed_by="", by=None)
