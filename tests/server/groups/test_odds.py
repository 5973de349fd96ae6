import numpy as np
import pytest

from pooling.odds import Typed, odds_of_rows
from server.accounts import throttles
from server.core.errors import Invalid, TooMany
from server.groups.odds import odds_for

pytestmark = pytest.mark.django_db
TYPED = {"members": 6, "wears_a_month": 3, "sites": 2, "months": 2}


def test_equal_numbers_get_equal_odds_whoever_asks(stranger, contributor):
    assert odds_for(account=stranger.account, **TYPED) == odds_for(account=contributor.account, **TYPED)


def test_odds_are_rounded_to_what_a_hundred_groups_tell(stranger):
    told = odds_for(account=stranger.account, **TYPED)
    exact = odds_of_rows(Typed(**TYPED), np.random.default_rng(5), n_runs=400)
    assert abs(told.any_site_row_pct - 100 * exact.any_site_row_frac) < 20
    assert abs(told.still_waiting_pct - 100 * exact.still_waiting_frac) < 20
    assert told.still_waiting_pct % 5 == 0


def test_the_number_at_fault_is_named(stranger):
    with pytest.raises(Invalid, match="members"):
        odds_for(account=stranger.account, **TYPED | {"members": 0})


def test_nobody_asks_without_end(stranger, monkeypatch):
    monkeypatch.setitem(throttles.MOST_TRIES_PER_HOUR, "odds", 1)
    odds_for(account=stranger.account, **TYPED)
    with pytest.raises(TooMany):
        odds_for(account=stranger.account, **TYPED)
