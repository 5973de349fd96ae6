"""What wears say in each family of outcomes: who has a value there, and the values that sealing adds up."""

from collections.abc import Container, Mapping, Sequence
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from pooling.crossing import Crossed
from pooling.sealing.grid import Floats, Ints
from pooling.sealing.version import DAYS_ON, FAMILIES, SealVersion
from pooling.sealing.wear import WearValues, has_accuracy, weights

MINUTES_A_DAY = 1_440
WORST_MILD_GRADE = 1
OFF = {
    "off_adhesive": ("fell_off", "knocked_off"),
    "off_device": ("device_error", "signal_loss"),
    "off_body": ("removed_skin", "removed_pain"),
}
"""Ends before the rated life, by what brought them about; what is named in none is off_other."""
_NAMED = frozenset(reason for reasons in OFF.values() for reason in reasons)
_DAYS = {f"on{day}": day for day in DAYS_ON}


class RatingsLike(Protocol):
    """What sealing reads of ratings."""

    @property
    def ease(self) -> int | None: ...
    @property
    def comfort(self) -> int | None: ...
    @property
    def discretion(self) -> int | None: ...


class SummaryLike(Protocol):
    """What sealing reads of a wear summary; of the first family alone the strata."""

    @property
    def strata(self) -> Mapping[str, Any]: ...  # all: StratumLike
    @property
    def crossed(self) -> Mapping[int, Crossed]: ...
    @property
    def zones(self) -> tuple[int, ...]: ...
    @property
    def worn_min(self) -> int: ...
    @property
    def end_reason(self) -> str: ...
    @property
    def skin_grade(self) -> int | None: ...
    @property
    def ratings(self) -> RatingsLike: ...


def has_value(summary: SummaryLike, family: str) -> bool:
    """Whether a wear counts in a family: eight pairs, a grade of the skin, a rating; for time on the skin, always.

    A wear without a single pair counts for the time on the skin: leaving out those that fell off early would flatter.
    """
    if family == "accuracy":
        return has_accuracy(summary.strata["all"])
    if family == "skin":
        return summary.skin_grade is not None
    return family == "survival" or getattr(summary.ratings, family) is not None


def values_of(summaries: Sequence[SummaryLike], family: str, version: SealVersion, *, lives_days: Ints) -> WearValues:
    """Values, sampling variances and weights of wears in each channel of a family other than accuracy.

    A wear gives one value a channel: whether it was still on at a day (asked of sensors rated to last
    so long, and counting every end, whatever brought it about), how it ended early, whether the skin reacted (grade 2
    and above), a rating. Weights are constants of the version.

    Parameters
    ----------
    summaries : sequence of SummaryLike, n_wears long
        Each has a value in the family.
    family, version
        One of FAMILIES, and the frozen constants.
    lives_days : ndarray of int, shape (n_wears,)
        How long each sensor is rated to last.
    """
    plain, n_wears = _plain_values(summaries, family, lives_days), len(summaries)
    constants = [version.channels[channel] for channel in FAMILIES[family]]
    assumed = np.array([np.full(n_wears, own.noise) for own in constants])
    return WearValues(
        np.array([plain[channel] - version.channels[channel].reference for channel in FAMILIES[family]]),
        assumed,
        assumed,
        np.array([weights(noise, own) for noise, own in zip(assumed, constants, strict=True)]),
        np.array([_is_asked(channel, lives_days) for channel in FAMILIES[family]]),
    )


def _is_asked(channel: str, lives_days: Ints) -> NDArray[np.bool_]:
    """Whether wears have a value: a day beyond a sensor's rated life is not asked of it."""
    return lives_days >= _DAYS.get(channel, 0)


def _plain_values(summaries: Sequence[SummaryLike], family: str, lives_days: Ints) -> dict[str, Floats]:
    if family == "skin":
        return {"reaction": np.array([float((one.skin_grade or 0) > WORST_MILD_GRADE) for one in summaries])}
    if family != "survival":
        return {family: np.array([float(getattr(one.ratings, family)) for one in summaries])}
    # A sensor that ended as meant was on all its life, though it may have stopped some minutes before the day was full.
    reasons = [one.end_reason for one in summaries]
    worn_days = np.array([one.worn_min for one in summaries]) / MINUTES_A_DAY
    days = np.where(_among(reasons, {"completed"}), lives_days, worn_days)
    early = days < lives_days
    return {
        **{channel: (days >= day).astype(float) for channel, day in _DAYS.items()},
        "on_rated": (~early).astype(float),
        **{channel: (early & _among(reasons, named)).astype(float) for channel, named in OFF.items()},
        "off_other": (early & ~_among(reasons, _NAMED)).astype(float),
    }


def _among(reasons: Sequence[str], named: Container[str]) -> NDArray[np.bool_]:
    return np.array([reason in named for reason in reasons], dtype=bool)
