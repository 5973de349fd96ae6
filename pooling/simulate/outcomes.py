"""The truth of an invented community beside accuracy: days on the skin, how wears end, skin and ratings.

It follows from the same constants that wears are drawn by; people and sites do not differ in it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil

import numpy as np
from scipy.special import ndtr

from pooling.simulate.law import COMPLETED_FRAC, ELAPSED_STEP_MIN, SHORTEST_PAIRED_WEAR_MIN
from pooling.simulate.wear import END_REASONS, RATING_MEAN, RATING_SD, SKIN_GRADE_SHARES

MINUTES_A_DAY = 1440
WORST_MILD_GRADE = 1
HIGHEST_RATING = 10


@dataclass(frozen=True, slots=True)
class OutcomeTruth:
    """Shares of wears of one sensor model from 0 to 1, and the mean of a rating.

    on goes by day, off by the reason of an early end.
    """

    on: Mapping[int, float]
    on_rated: float
    off: Mapping[str, float]
    reaction: float
    rating: float


def outcome_truth(rated_life_days: int, *, lost_frac: float, days: tuple[int, ...] = (3, 7, 10, 14)) -> OutcomeTruth:
    """What a new wear of a new wearer comes to, in closed form.

    Parameters
    ----------
    rated_life_days
        Life of the sensor model.
    lost_frac
        Share of wears that come off within hours, before any fingerstick.
    days
        Those up to the rated life are asked.

    Examples
    --------
    >>> truth = outcome_truth(14, lost_frac=0.01)
    >>> round(truth.on_rated, 4), round(truth.on[3], 4)
    (0.7128, 0.9669)
    """
    early = 1 - COMPLETED_FRAC
    kept = 1 - lost_frac
    on_rated = kept * COMPLETED_FRAC
    total = sum(END_REASONS.values())
    off = {reason: kept * early * share / total for reason, share in END_REASONS.items()}
    off["fell_off"] += lost_frac
    mild = sum(SKIN_GRADE_SHARES[: WORST_MILD_GRADE + 1])
    # A lost wear has the skin of the end that it was drawn with before it was lost.
    for_skin = (kept * early + lost_frac) * END_REASONS["removed_skin"] / total
    return OutcomeTruth(
        on={
            day: kept * (COMPLETED_FRAC + early * _still_on(day, rated_life_days))
            for day in days
            if day <= rated_life_days
        },
        on_rated=on_rated,
        off=off,
        reaction=for_skin + (1 - for_skin) * (1 - mild),
        rating=mean_rating(RATING_MEAN, RATING_SD),
    )


def mean_rating(mean: float, sd: float) -> float:
    """Mean of a normal number rounded and held within 0 to 10: the sum of the chances to reach 1, 2, … 10.

    Examples
    --------
    >>> round(mean_rating(5.0, 2.0), 6)
    5.0
    """
    edges = np.arange(HIGHEST_RATING) + 0.5
    return float(ndtr((mean - edges) / sd).sum())


def _still_on(day: int, rated_life_days: int) -> float:
    """Chance that a wear that ended early, evenly between two days and its life, was still on at a day."""
    steps = (rated_life_days * MINUTES_A_DAY - SHORTEST_PAIRED_WEAR_MIN) // ELAPSED_STEP_MIN
    first = max(ceil((day * MINUTES_A_DAY - SHORTEST_PAIRED_WEAR_MIN) / ELAPSED_STEP_MIN), 0)
    return max(steps - first, 0) / steps
