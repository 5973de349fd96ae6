"""Differences between parts as ratios of sealed sums, each with the variance of all that it leaves to chance."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from pooling.parts.sums import SHARE_SPREAD, Floats, PartSums

PART_BY_PERSON = {"direct": 0.2, "yes_no": 0.22}
"""Sd between wearers of what a part does to them: of the mean itself; of (p (1 - p)) to the half (common practice)."""
CLEAR = 6.0
"""A count to be expected has to be so many times its masking noise."""
FAINT = 3.0
"""And the count itself so many times, to be divided by."""
UNEVEN = 1.15
"""Sum of squared weights, as a multiple of what it would be if all people weighed the same."""


@dataclass(frozen=True, slots=True)
class Measured:
    """A figure with its sampling variance, masking noise included."""

    value: float
    variance: float


@dataclass(frozen=True, slots=True)
class Scatter:
    """What is known of readings: pairs of a wearer in a block, variance of a relative difference over its mean square.

    person_variance is that of wearers' levels.
    """

    pairs_per_person: float
    relative_variance: float
    person_variance: float


def mean_of(sums: PartSums, part: str, scatter: Scatter, *, yes_no: bool) -> Measured | None:
    """Mean in one part; None where the weight in it cannot be told from its masking noise."""
    return _combined(sums, {part: 1.0}, scatter, yes_no=yes_no, less_whole=False)


def against_whole(sums: PartSums, weights: Mapping[str, float], scatter: Scatter, *, yes_no: bool) -> Measured | None:
    """Weighted mean of parts' means, less the mean over all pairs.

    Parameters
    ----------
    sums : PartSums
    weights : mapping of str to float
        By part, adding up to 1.
    scatter : Scatter
    yes_no : bool
        Whether a reading has or has not, or has a value.

    Returns
    -------
    Measured or None
        None where a part's weight cannot be told from its masking noise.

    Notes
    -----
    The delta method for ratios of sums (any textbook of survey sampling): the ratio's error is, to first order, that of
    value sum less ratio times weight sum, over the weight sum. Both sums have known noise. What people add is taken
    from the readings' own scatter and from stated spreads between people, since no squares of parts are sealed.
    """
    return _combined(sums, weights, scatter, yes_no=yes_no, less_whole=True)


def between(sums: PartSums, part: str, other: str, scatter: Scatter, *, yes_no: bool) -> Measured | None:
    """Mean in one part less the mean in another."""
    return _combined(sums, {part: 1.0, other: -1.0}, scatter, yes_no=yes_no, less_whole=False)


def share_of_first(sums: PartSums, part: str, scatter: Scatter) -> Measured | None:
    """Of all that was counted, the share that lies outside a part; None where the whole count is mostly noise.

    Whether it is told, and how sure it is, follow from the count to be expected by the rates of all places. Noise that
    happens to raise the place's own count raises this share too, so a look at that count would tell the high ones, and
    believe them more. What the noise of the count adds to the ratio in the mean is taken off (second order).
    """
    whole, noise = float(sums.first.sum()), float(sums.value_noise.sum()) ** 0.5
    rates = np.clip(sums.typical, 0.0, 1.0)
    counts = rates * np.maximum(sums.weight, 0.0)
    expected = float(counts.sum())
    if part not in sums.parts or expected <= CLEAR * noise or whole <= FAINT * noise:
        return None
    position = sums.place_of(part)
    inside = float(counts[position]) / expected
    gradient = np.full(len(sums.parts), inside / expected)
    gradient[position] = (inside - 1) / expected
    added = (inside * noise**2 - float(sums.value_noise[position].sum())) / expected**2
    outside = 1 - float(sums.first[position]) / whole + added
    share = np.clip(sums.share, 0.0, 1.0)
    # Readings that count are few: what people add varies as their number does, and with how many a wearer has there.
    people = share * rates / scatter.pairs_per_person + SHARE_SPREAD * share * rates**2
    variance = gradient @ sums.value_noise @ gradient + UNEVEN * sums.squared_weight * (gradient**2 * people).sum()
    return Measured(outside, float(variance))


def _combined(
    sums: PartSums, weights: Mapping[str, float], scatter: Scatter, *, yes_no: bool, less_whole: bool
) -> Measured | None:
    if any(part not in sums.parts or not sums.can_tell(sums.place_of(part)) for part in weights):
        return None
    chosen = np.array([weights.get(part, 0.0) for part in sums.parts])
    per_weight = np.divide(chosen, sums.weight, out=np.zeros_like(chosen), where=chosen != 0)
    of_values, of_weights = per_weight - less_whole / sums.total, per_weight * (sums.typical - sums.reference)
    share = np.clip(sums.share, 0.0, 1.0)
    shares_vary = SHARE_SPREAD * (np.diag(share) - np.outer(share, share))
    apart = (sums.typical - sums.share @ sums.typical) * less_whole / sums.total
    people = of_values @ _people(share, sums.typical, shares_vary, scatter, yes_no) @ of_values
    people += apart @ shares_vary @ apart
    masking = of_values @ sums.value_noise @ of_values + of_weights @ sums.weight_noise @ of_weights
    value = chosen @ np.where(chosen != 0, sums.mean, 0.0) - less_whole * sums.whole
    return Measured(float(value), float(masking + UNEVEN * sums.squared_weight * people))


def _people(share: Floats, means: Floats, shares_vary: Floats, scatter: Scatter, yes_no: bool) -> Floats:
    """Covariance over parts of what one person of weight 1 adds about the parts' means."""
    if yes_no:
        chance = np.clip(means, 0.005, 0.995)
        reading = chance * (1 - chance)
        by_part = PART_BY_PERSON["yes_no"] ** 2 * reading
    else:
        reading = scatter.relative_variance * means**2
        by_part = (PART_BY_PERSON["direct"] * means) ** 2
    own = np.diag(share * reading / scatter.pairs_per_person + share**2 * by_part)
    level = np.outer(share, share) + shares_vary
    return own + scatter.person_variance * level
