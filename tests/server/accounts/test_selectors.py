from dataclasses import replace
from uuid import uuid4

import pytest

from server.accounts import selectors, services
from server.accounts.consents import CONSENT_VERSION
from server.accounts.models import Holding
from server.core.errors import NotFound
from tests.server.records import A_CHILD

pytestmark = pytest.mark.django_db


@pytest.fixture
def held(stranger):
    wearer = selectors.wearers_of(stranger.account)[0]
    return Holding.objects.create(wear_id=uuid4(), account=stranger.account, wearer=wearer)


def test_the_link_is_found_from_both_ends(stranger, held):
    assert selectors.holding_of(held.wear_id) == held
    assert selectors.wears_held_by(stranger.account) == [held.wear_id]
    assert selectors.holding_of(uuid4()) is None


def test_owners_leave_out_wears_that_nobody_holds(stranger, held):
    owners = selectors.owners_of([held.wear_id, uuid4()])
    assert owners == {
        held.wear_id: {
            "account_id": stranger.account.pk,
            "wearer_id": held.wearer_id,
            "joined_on": stranger.account.joined_on,
        }
    }


def test_more_wears_than_one_query_takes_are_all_found(stranger, monkeypatch):
    monkeypatch.setattr(selectors, "CHUNK", 2)
    wearer = selectors.wearers_of(stranger.account)[0]
    ids = [uuid4() for _ in range(5)]
    Holding.objects.bulk_create(Holding(wear_id=i, account=stranger.account, wearer=wearer) for i in ids)
    assert set(selectors.owners_of(ids)) == set(ids)


def test_labels_lead_to_wearers_and_accounts_until_the_account_is_closed(new_member):
    one, other = new_member(), new_member()
    labels = {}
    for member in (one, other):
        labels[member] = uuid4()
        wearer = selectors.wearers_of(member.account)[0]
        services.link_labels([(labels[member], member.account.pk, wearer.pk)])
    assert set(selectors.open_labels_of([one.account.pk])) == {labels[one]}
    assert selectors.accounts_behind_labels()[labels[other]] == other.account.pk
    services.close_account(other.account)
    assert set(selectors.accounts_behind_labels()) == {labels[one]}


def test_the_last_turn_of_a_switch_counts(stranger):
    assert selectors.has_consented(stranger.account, "pool")
    services.record_consent(stranger.account, scope="pool", given=False, text_version=CONSENT_VERSION)
    assert not selectors.has_consented(stranger.account, "pool")
    assert selectors.has_consented(stranger.account, "keep")


def test_another_accounts_wearer_is_not_found(new_member):
    one, other = new_member(), new_member()
    child = services.add_wearer(other.account, **A_CHILD)
    assert selectors.wearer_of(other.account, child.pk) == child
    assert selectors.wearer_of(other.account, None).relation == "self"
    with pytest.raises(NotFound):
        selectors.wearer_of(one.account, child.pk)


@pytest.mark.parametrize("token", ["", "nobody's", "\N{SNOWMAN}"])
def test_an_unknown_token_is_nobodys(token):
    assert selectors.account_for_token(token) is None


MAPPING = {
    "kind": "meter",
    "header_line": 1,
    "roles": ["date", "time_of_day", "glucose"],
    "glucose_unit": None,
    "date_order": "year_first",
    "decimal": ".",
    "time_zone": None,
    "header_hash_input": ["day", "hour", "value"],
}


def test_a_layout_is_known_again_by_its_words_in_their_order(stranger):
    services.remember_mapping(stranger.account, MAPPING)
    found = selectors.mapping_for_words(stranger.account, ("day", "hour", "value"))
    kept = ("kind", "roles", "glucose_unit", "date_order", "decimal")
    assert found == {name: MAPPING[name] for name in kept}
    for other in (("hour", "day", "value"), ("day", "hour"), ("day hour", "value"), ()):
        assert selectors.mapping_for_words(stranger.account, other) is None


def test_a_mark_of_a_layout_needs_the_key_and_the_account(stranger, contributor, settings):
    words = ("day", "hour", "value")
    own = selectors.layout_marks(stranger.account, words)
    assert own != selectors.layout_marks(contributor.account, words)
    settings.KEYS = replace(settings.KEYS, mac_keys=("77" * 32,))
    assert selectors.layout_marks(stranger.account, words) != own
