"""A wear's own report: what it says, what is odd about it, and what one wear cannot say."""

from dataclasses import asdict
from typing import Any

import msgspec
import numpy as np
from numpy.typing import NDArray
from scipy import stats

from pooling.accuracy import agreement
from pooling.caution import CAUTION_TEXT, CAUTION_VERSION
from pooling.checks import FEWEST_PAIRS, find
from pooling.columns import PairColumns
from pooling.errorgrids import ZONES, clarke_zones, consensus_zones
from pooling.record import WearRecord
from pooling.summary import SummaryRules, WearSummary, summarise
from pooling.units import MG_DL, glucose_text
from pooling.vocabulary import PROMPTS, label

RULES = {
    "mard_pct": "mean of the absolute differences in per cent of the fingerstick",
    "mard_margin_points": "half of a 95 % interval of that mean, for these pairs taken as independent; it knows "
    "nothing of other sensors",
    "median_ard_pct": "median of the same differences",
    "within_15_15_pct": "within 15 mg/dL of fingersticks below 100 mg/dL, within 15 % from 100 on, ends included",
    "within_20_20_pct": "within 20 mg/dL of fingersticks below 100 mg/dL, within 20 % from 100 on, ends included",
    "consensus_zones_pct": "share of pairs in each zone of the consensus error grid for type 1 diabetes",
    "clarke_zones_pct": "share of pairs in each zone of the Clarke error grid",
    "shows": "where four in five further readings of this sensor would lie, if its relative differences are roughly "
    f"normal; from {FEWEST_PAIRS} pairs on",
    "lows": "fingersticks below 70 mg/dL (3.9 mmol/L) and what the sensor showed; below its range counts as low",
}
CANNOT_SAY = (
    "One wear cannot tell the site from the sensor: two sensors on one site differ, too.",
    "The meter has an error of its own, and part of every difference is the meter's.",
    "A few dozen pairs leave a wide margin: the same sensor, pricked at other moments, would give other figures.",
    "One body is not another: what this site did here says little about what it will do for somebody else.",
)
SHOWN_AT_MG_DL = (70, 100, 180)
SHOWN_SHARE = 0.8
TENDENCY_PCT = 2
_COUNT_EVERYTHING = SummaryRules(version=0)


def wear_report(columns: PairColumns, record: WearRecord) -> dict[str, Any]:
    """The owner's first report of a wear.

    Pairs in which the sensor was out of its range, and fingersticks that calibrated it, are counted and not measured;
    a reading out of range still counts among the lows.

    Parameters
    ----------
    columns
        The pairs of the wear.
    record
        The record they came in.

    Returns
    -------
    dict
        JSON values; glucose in mg/dL. Without a pair to measure, the measures are absent and `n_pairs` is 0.

    Raises
    ------
    InvalidInput
        If a pair lies after the end of the wear.
    """
    measured = (columns.mark == 0) & (columns.prompt != PROMPTS.index("calibration"))
    reference, sensor = columns.reference_mg_dl[measured], columns.sensor_mg_dl[measured]
    summary = _summary(columns, record)
    report: dict[str, Any] = {
        "site": record.site,
        "site_label": label(record.site),
        "worn_days": round(record.worn_min / 1440, 1),
        "ended": label(record.end_reason),
        "n_pairs": int(reference.size),
        "n_out_of_range": int(np.sum(columns.mark != 0)),
        "n_calibrating": int(np.sum(columns.prompt == PROMPTS.index("calibration"))),
        "lows": _lows(summary),
    }
    if reference.size:
        report |= _measures(reference, sensor) | {"shows": _shows(summary)}
        report["in_words"] = " ".join(in_words(report, MG_DL))
    return report | {
        "findings": msgspec.to_builtins(find(columns, record)),
        "cannot_say": list(CANNOT_SAY),
        "rules": RULES,
        "caution": {"version": CAUTION_VERSION, "text": CAUTION_TEXT},
    }


def _summary(columns: PairColumns, record: WearRecord) -> WearSummary:
    return summarise(
        columns,
        worn_min=record.worn_min,
        end_reason=record.end_reason,
        skin_grade=None,
        ratings=None,
        rules=_COUNT_EVERYTHING,
    )


# ---- figures ---------------------------------------------------------------------------------------------------------


def _measures(reference: NDArray[np.float64], sensor: NDArray[np.float64]) -> dict[str, Any]:
    figures = asdict(agreement(reference, sensor))
    return {name: value if name == "n_pairs" else round(value, 2) for name, value in figures.items()} | {
        "mard_margin_points": _margin(100 * np.abs(sensor / reference - 1)),
        "consensus_zones_pct": _shares(consensus_zones(reference, sensor)),
        "clarke_zones_pct": _shares(clarke_zones(reference, sensor)),
    }


def _margin(ard_pct: NDArray[np.float64]) -> float | None:
    """Half of the 95 % t interval of a mean; None for one pair, which has none."""
    if ard_pct.size < 2:
        return None
    return round(float(stats.t.ppf(0.975, ard_pct.size - 1) * stats.sem(ard_pct)), 2)


def _shares(zones: NDArray[np.str_]) -> dict[str, float]:
    return {zone: round(100 * float(np.mean(zones == zone)), 1) for zone in ZONES}


def _lows(summary: WearSummary) -> dict[str, int]:
    return {
        "n_low_by_reference": summary.both_low + summary.missed_low,
        "n_of_them_shown_low": summary.both_low,
        "n_shown_low_only": summary.false_low,
    }


def _shows(summary: WearSummary) -> list[dict[str, int]]:
    """Prediction interval of one more reading at each level, from mean and sd of the log ratios."""
    stratum = summary.strata["all"]
    n = stratum.n_pairs
    if n < FEWEST_PAIRS:
        return []
    half = stats.t.ppf(0.5 + SHOWN_SHARE / 2, n - 1) * np.sqrt(stratum.s / (n - 1) * (1 + 1 / n))
    return [
        {
            "reference_mg_dl": level,
            "from_mg_dl": round(level * float(np.exp(stratum.m - half))),
            "to_mg_dl": round(level * float(np.exp(stratum.m + half))),
        }
        for level in SHOWN_AT_MG_DL
    ]


# ---- words -----------------------------------------------------------------------------------------------------------


def in_words(report: dict[str, Any], glucose_unit: str) -> list[str]:
    """What the figures of a report mean beside a fingerstick, life units first, in the reader's unit.

    Parameters
    ----------
    report
        What `wear_report` gave.
    glucose_unit
        "mg/dL" or "mmol/L".

    Returns
    -------
    list of str
        Sentences; none where nothing could be measured.

    Raises
    ------
    InvalidInput
        If there is no such unit.
    """
    if not report["n_pairs"]:
        return []
    levels = [
        f"When the fingerstick was {glucose_text(level['reference_mg_dl'], glucose_unit)}, the sensor mostly showed "
        f"{glucose_text(level['from_mg_dl'], glucose_unit)} to {glucose_text(level['to_mg_dl'], glucose_unit)} "
        f"{glucose_unit}."
        for level in report["shows"]
    ]
    off = (
        f"Beside a fingerstick of {glucose_text(100, glucose_unit)} {glucose_unit} the sensor was off by about "
        f"{glucose_text(report['mard_pct'], glucose_unit)} {glucose_unit} on average, "
        f"and read {_tendency(report['relative_bias_pct'])}."
    )
    return [*levels, off, _margin_sentence(report, glucose_unit), *_low_sentences(report["lows"])]


def _tendency(relative_bias_pct: float) -> str:
    if abs(relative_bias_pct) <= TENDENCY_PCT:
        return "neither high nor low"
    return "rather high" if relative_bias_pct > 0 else "rather low"


def _margin_sentence(report: dict[str, Any], unit: str) -> str:
    margin = report["mard_margin_points"]
    if margin is None:
        return "One pair says next to nothing."
    low = glucose_text(max(0.0, report["mard_pct"] - margin), unit)
    high = glucose_text(report["mard_pct"] + margin, unit)
    return f"From {report['n_pairs']} pairs that average could as well be anything from {low} to {high}."


def _low_sentences(lows: dict[str, int]) -> list[str]:
    said = []
    if lows["n_low_by_reference"]:
        said.append(
            f"Of {_times(lows['n_low_by_reference'], 'fingerstick')} below range, the sensor showed "
            f"{lows['n_of_them_shown_low']} as below range."
        )
    if lows["n_shown_low_only"]:
        said.append(f"It showed a low {_times(lows['n_shown_low_only'], 'time')} when the fingerstick did not.")
    return said


def _times(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
