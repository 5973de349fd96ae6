"""Which wears an own estimate reads: those on the body asked about, once each, and none that was left out."""

import pytest

from pooling.own import OwnWear
from server.accounts.selectors import wearer_of
from server.accounts.services import add_wearer
from server.wears.models import Wear
from server.wears.own import own_wears
from server.wears.services import erase_wear

pytestmark = pytest.mark.django_db


def own(member, wearer=None):
    return own_wears(member.account, wearer or wearer_of(member.account, None))


def test_every_own_wear_counts_with_its_sums(contributor, stranger, upload):
    upload(contributor, site="calf", seed=1)
    upload(contributor, site="chest", seed=2)
    upload(stranger, seed=3)
    found = own(contributor)
    assert [wear.site for wear in found] == ["calf", "chest"]
    assert all(isinstance(wear, OwnWear) and wear.counts for wear in found)


def test_a_copy_counts_once_and_an_erased_wear_not_at_all(contributor, upload):
    upload(contributor, seed=1)
    copy = upload(contributor, seed=1)
    assert len(own(contributor)) == 1
    erase_wear(copy.pk, account=contributor.account)
    assert len(own(contributor)) == 1


def test_wears_of_another_body_are_another_persons(contributor, upload):
    other = add_wearer(contributor.account, relation="other", age_class="adult")
    upload(contributor, seed=1)
    upload(contributor, seed=2, wearer=other)
    assert len(own(contributor)) == len(own(contributor, other)) == 1


def test_what_is_shown_as_left_out_does_not_count_but_a_decision_not_yet_shown_tells_nothing(contributor, give):
    wear = give(contributor, seed=1)
    Wear.objects.filter(pk=wear.pk).update(state="excluded", previous_state="queued")
    assert len(own(contributor)) == 1
    Wear.objects.filter(pk=wear.pk).update(shown_state="excluded")
    assert own(contributor) == []
