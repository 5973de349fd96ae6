"""The figures of one wear: measures of agreement with their margins, by group of pairs, zones, and lows."""

from dataclasses import asdict
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pooling.accuracy import agreement, wilson_interval, within_rule
from pooling.checks import FEWEST_PAIRS
from pooling.columns import NO_RATE, PairColumns
from pooling.errorgrids import ZONES, clarke_zones, consensus_zones
from pooling.report.bootstrap import Draws, Floats, draw, mean_intervals, median_interval, share_intervals
from pooling.summary import STRATA, WearSummary, membership
from pooling.vocabulary import PROMPTS

Masks = NDArray[np.bool_]

BANDS = (15, 20, 30, 40)
FAST_MG_DL_MIN = 1.0
"""From this rate on glucose counts as rising or falling. Common practice, no source."""
GROUPS = {
    "phase": ("day1", "days2_7", "day8_on"),
    "level": ("reference_low", "reference_mid", "reference_high"),
    "rate": ("falling", "steady", "rising"),
    "prompt": ("scheduled", "doubt"),
}


def measured(columns: PairColumns) -> PairColumns:
    """The pairs that speak of accuracy: the sensor showed a number, and the fingerstick did not calibrate it."""
    return columns.only((columns.mark == 0) & (columns.prompt != PROMPTS.index("calibration")))


def headline(columns: PairColumns) -> dict[str, Any]:
    """Every measure of agreement of the measured pairs, rounded, without margins; empty where there is no pair."""
    pairs = measured(columns)
    if not pairs.n_pairs:
        return {}
    figures = asdict(agreement(pairs.reference_mg_dl, pairs.sensor_mg_dl))
    return {name: value if name == "n_pairs" else round(value, 2) for name, value in figures.items()}


def margins(pairs: PairColumns, rng: np.random.Generator) -> dict[str, Any]:
    """95 % intervals of the measures of `headline`, all from one set of draws; empty below eight moments."""
    drawn = draw(pairs.elapsed_min, rng)
    if drawn is None:
        return {}
    reference, sensor = pairs.reference_mg_dl, pairs.sensor_mg_dl
    difference, relative_pct = sensor - reference, 100 * (sensor / reference - 1)
    means = {
        "mard_pct": np.abs(relative_pct),
        "mad_mg_dl": np.abs(difference),
        "bias_mg_dl": difference,
        "relative_bias_pct": relative_pct,
    }
    inside = np.stack([within_rule(reference, sensor, band) for band in BANDS])
    found = dict(zip(means, mean_intervals(drawn, np.stack(list(means.values()))).tolist(), strict=True))
    found["median_ard_pct"] = list(median_interval(drawn, np.abs(relative_pct)))
    for band, (low, high) in zip(BANDS, share_intervals(drawn, inside), strict=True):
        found[f"within_{band}_{band}_pct"] = [100 * low, 100 * high]
    return {
        "intervals": {name: [round(low, 2), round(high, 2)] for name, (low, high) in found.items()},
        "draws": _of_draws(drawn),
    }


def _of_draws(drawn: Draws) -> dict[str, Any]:
    return {
        "n_draws": len(drawn.weights),
        "n_stretches": drawn.n_stretches,
        "stretch_hours": round(drawn.stretch_min / 60, 2),
    }


def zone_shares(pairs: PairColumns) -> dict[str, dict[str, float]]:
    """Share of pairs in each zone of both grids, in per cent."""
    reference, sensor = pairs.reference_mg_dl, pairs.sensor_mg_dl
    grids = {
        "consensus_zones_pct": consensus_zones(reference, sensor),
        "clarke_zones_pct": clarke_zones(reference, sensor),
    }
    return {
        name: {zone: round(100 * float(np.mean(zones == zone)), 1) for zone in ZONES} for name, zones in grids.items()
    }


# ---- groups of pairs -------------------------------------------------------------------------------------------------


def groups(pairs: PairColumns, rng: np.random.Generator) -> dict[str, list[dict[str, Any]]]:
    """MARD and bias by day of wear, level, rate of change and reason; figures only where a group has eight pairs."""
    masks = dict(zip(STRATA, membership(pairs), strict=True)) | _by_rate(pairs)
    return {
        kind: [{"name": name} | _group(pairs.only(masks[name]), rng) for name in names]
        for kind, names in GROUPS.items()
    }


def _by_rate(pairs: PairColumns) -> dict[str, Masks]:
    known, rate = pairs.rate_hundredths != NO_RATE, pairs.rate_hundredths / 100
    falling, rising = known & (rate < -FAST_MG_DL_MIN), known & (rate > FAST_MG_DL_MIN)
    return {"falling": falling, "steady": known & ~falling & ~rising, "rising": rising}


def _group(pairs: PairColumns, rng: np.random.Generator) -> dict[str, Any]:
    if pairs.n_pairs < FEWEST_PAIRS:
        return {"n_pairs": pairs.n_pairs, "mard_pct": None, "mard_interval_pct": None, "relative_bias_pct": None}
    relative_pct: Floats = 100 * (pairs.sensor_mg_dl / pairs.reference_mg_dl - 1)
    drawn = draw(pairs.elapsed_min, rng)
    interval = None if drawn is None else mean_intervals(drawn, np.abs(relative_pct)[None])[0].round(1).tolist()
    return {
        "n_pairs": pairs.n_pairs,
        "mard_pct": round(float(np.abs(relative_pct).mean()), 1),
        "mard_interval_pct": interval,
        "relative_bias_pct": round(float(relative_pct.mean()), 1),
    }


# ---- lows ------------------------------------------------------------------------------------------------------------


def lows(summary: WearSummary) -> dict[str, Any]:
    """Lows by the fingerstick and by the sensor; shares with 95 % Wilson intervals of single fingersticks."""
    both, missed, false = summary.both_low, summary.missed_low, summary.false_low
    return {
        "n_low_by_reference": both + missed,
        "n_of_them_shown_low": both,
        "missed_interval_pct": _wilson_pct(missed, both + missed),
        "n_low_by_sensor": both + false,
        "n_shown_low_only": false,
        "false_interval_pct": _wilson_pct(false, both + false),
    }


def _wilson_pct(k: int, n: int) -> list[float] | None:
    return [round(100 * end, 1) for end in wilson_interval(k, n)] if n else None
