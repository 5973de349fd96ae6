"""How likely a group shows rows of its own: from typed numbers alone, so that no answer tells who is there."""

import hashlib
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from pooling.errors import InvalidInput
from pooling.odds import N_RUNS, Typed, odds_of_rows
from server.accounts.models import Account
from server.accounts.throttles import count_try
from server.core.errors import Invalid

ROUNDED_TO_PCT = 5  # the standard error of a share of 100 groups is at most that


@dataclass(frozen=True, slots=True)
class ToldOdds:
    """Shares in per cent, rounded to what a hundred invented groups can tell."""

    any_site_row_pct: int
    given_site_row_pct: int
    still_waiting_pct: int
    n_runs: int
    assumed: tuple[str, ...]


def odds_for(*, account: Account, **numbers: int) -> ToldOdds:
    """The odds for numbers that somebody typed; equal numbers get equal odds."""
    count_try("odds", str(account.id))
    try:
        return _odds(Typed(**numbers))
    except InvalidInput as error:
        raise Invalid(f"No odds can be worked out for these numbers: {error}.") from None


@lru_cache(maxsize=256)
def _odds(typed: Typed) -> ToldOdds:
    seed = int.from_bytes(hashlib.sha256(repr(typed).encode()).digest())
    odds = odds_of_rows(typed, np.random.default_rng(seed), n_runs=N_RUNS)
    return ToldOdds(
        any_site_row_pct=_pct(odds.any_site_row_frac),
        given_site_row_pct=_pct(odds.given_site_row_frac),
        still_waiting_pct=_pct(odds.still_waiting_frac),
        n_runs=odds.n_runs,
        assumed=odds.assumed,
    )


def _pct(share: float) -> int:
    return ROUNDED_TO_PCT * round(100 * share / ROUNDED_TO_PCT)
