"""What a wear says in each family of outcomes: the values that sealing adds up."""

from collections.abc import Mapping
from typing import Protocol

from pooling.crossing import Crossed
from pooling.sealing.version import DAYS_ON, FAMILIES, SealVersion
from pooling.sealing.wear import StratumLike, WearValue, has_accuracy, wear_values

MINUTES_A_DAY = 1_440
WORST_MILD_GRADE = 1
OFF = {
    "off_adhesive": ("fell_off", "knocked_off"),
    "off_device": ("device_error", "signal_loss"),
    "off_body": ("removed_skin", "removed_pain"),
}
"""Ends before the rated life, by what brought them about; what is named in none is off_other."""
_NAMED = frozenset(reason for reasons in OFF.values() for reason in reasons)


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
    def strata(self) -> dict[str, StratumLike]: ...
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


def values_of(summary: SummaryLike, family: str, version: SealVersion, *, rated_life_days: int) -> dict[str, WearValue]:
    """Value, sampling variance and weight of one wear in each channel of a family.

    Outside accuracy a wear gives one value a channel: whether it was still on at a day (asked of sensors rated to last
    so long, and counting every end, whatever brought it about), how it ended early, whether the skin reacted (grade 2
    and above), a rating. Weights are constants of the version.

    Raises
    ------
    InvalidInput
        The wear has too few pairs for accuracy.
    """
    if family == "accuracy":
        return wear_values(summary.strata["all"], sum(summary.zones[2:]), version)
    found = _plain_values(summary, family, rated_life_days)
    return {
        channel: WearValue(
            found[channel] - version.channels[channel].reference,
            version.channels[channel].noise,
            1.0 / (version.channels[channel].wear_sd ** 2 + version.channels[channel].noise),
        )
        for channel in FAMILIES[family]
        if channel in found
    }


def _plain_values(summary: SummaryLike, family: str, rated_life_days: int) -> dict[str, float]:
    if family == "skin":
        return {"reaction": float((summary.skin_grade or 0) > WORST_MILD_GRADE)}
    if family != "survival":
        return {family: float(getattr(summary.ratings, family))}
    # A sensor that ended as meant was on all its life, though it may have stopped some minutes before the day was full.
    days = rated_life_days if summary.end_reason == "completed" else summary.worn_min / MINUTES_A_DAY
    early = days < rated_life_days
    return {
        **{f"on{day}": float(days >= day) for day in DAYS_ON if day <= rated_life_days},
        "on_rated": float(not early),
        **{channel: float(early and summary.end_reason in reasons) for channel, reasons in OFF.items()},
        "off_other": float(early and summary.end_reason not in _NAMED),
    }
