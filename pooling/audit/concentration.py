"""When a total gives its largest contributor away although enough people are in it: the trade's rules."""

import numpy as np
from numpy.typing import ArrayLike


def protected_by_p_pct(contributions: ArrayLike, *, p_pct: float) -> bool:
    """Whether the second largest contributor can estimate the largest no better than to `p_pct` percent: the p % rule.

    Taking the own contribution from the total leaves the largest and the remainder; the remainder is the error.
    Contributions are not negative; any order. Handbook on Statistical Disclosure Control, 2nd ed., ch. 4.2.

    >>> protected_by_p_pct([50_000, 49_000, 1_000], p_pct=10)
    False
    """
    largest = np.sort(np.asarray(contributions, dtype=float))[::-1]
    return bool(largest[2:].sum() >= p_pct / 100 * largest[:1].sum())


def p_pct_of_dominance(share_pct: float) -> float:
    """The p for which the p % rule refuses no less than the rule that two may not be more than `share_pct`.

    Same source.

    >>> p_pct_of_dominance(80)
    25.0
    """
    return 100 * (100 - share_pct) / share_pct


P_PCT = p_pct_of_dominance(80)
