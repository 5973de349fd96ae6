"""Findings: what in a wear's data looks odd, why that matters, and what to do. Nothing is ever mended silently.

What two exports show before there is a record is `pooling.checks.exports`. A reading outside what the stated unit
allows is no finding: the record is refused (`pooling.faults`).
"""

from collections.abc import Mapping
from types import MappingProxyType

from pooling.checks.course import impossible_rates, pressure_lows
from pooling.checks.finding import FEWEST_PAIRS, Check, Finding, WearFacts
from pooling.checks.instruments import copied, meter_noise, mixed_units, stuck, swapped
from pooling.checks.pairs import all_in_doubt, calibrations, digits, one_sided, outside_wear, repeated, too_few
from pooling.columns import PairColumns

__all__ = ["FEWEST_PAIRS", "SEVERITY_OF", "Finding", "WearFacts", "find"]

CHECKS: tuple[Check, ...] = (
    too_few,
    outside_wear,
    mixed_units,
    swapped,
    copied,
    stuck,
    impossible_rates,
    pressure_lows,
    meter_noise,
    digits,
    all_in_doubt,
    one_sided,
    repeated,
    calibrations,
)

SEVERITY_OF: Mapping[str, str] = MappingProxyType(
    {
        "too_few_pairs": "note",
        "outside_wear": "stop",
        "wrong_unit": "stop",
        "swapped_columns": "look",
        "copied_readings": "stop",
        "constant_offset": "stop",
        "stuck_sensor": "stop",
        "impossible_rates": "look",
        "pressure_lows": "note",
        "meter_noise": "look",
        "digit_preference": "look",
        "all_in_doubt": "look",
        "one_sided_range": "note",
        "repeated_pairs": "look",
        "calibration_pairs": "note",
        "plan_not_registered": "note",
        "unlike_the_pool": "look",
    }
)
"""Of each code that a wear can carry, for whoever has kept the code alone."""


def find(columns: PairColumns, wear: WearFacts) -> tuple[Finding, ...]:
    """Everything worth remarking about the pairs of a wear, in a fixed order.

    Thresholds are common practice, chosen so that well-kept wears stay without a remark (docs/METHODS.md has the rates
    measured); none is from a standard.

    Parameters
    ----------
    columns
        The pairs.
    wear
        The record they came in, or as much of it as is known.

    Returns
    -------
    tuple[Finding, ...]
        Empty for a wear without anything odd.
    """
    return tuple(finding for check in CHECKS for finding in check(columns, wear))
