"""A wear's own report: what it says, what is odd about it, and what one wear cannot say."""

from dataclasses import asdict
from typing import Any

import msgspec
import numpy as np
from numpy.typing import NDArray

from pooling.accuracy import agreement
from pooling.caution import CAUTION_TEXT, CAUTION_VERSION
from pooling.checks import find
from pooling.columns import PairColumns
from pooling.errorgrids import clarke_zones, consensus_zones
from pooling.record import WearRecord
from pooling.vocabulary import PROMPTS, label

RULES = {
    "mard_pct": "mean of the absolute differences in per cent of the fingerstick",
    "median_ard_pct": "median of the same differences",
    "within_15_15_pct": "within 15 mg/dL of fingersticks below 100 mg/dL, within 15 % from 100 on, ends included",
    "within_20_20_pct": "within 20 mg/dL of fingersticks below 100 mg/dL, within 20 % from 100 on, ends included",
    "consensus_zones_pct": "share of pairs in each zone of the consensus error grid for type 1 diabetes",
    "clarke_zones_pct": "share of pairs in each zone of the Clarke error grid",
}
CANNOT_SAY = (
    "One wear cannot tell the site from the sensor: two sensors on one site differ, too.",
    "The meter has an error of its own, and part of every difference is the meter's.",
    "A few dozen pairs leave a wide margin: the same sensor, pricked at other moments, would give other figures.",
)
_ZONES = ("A", "B", "C", "D", "E")


def wear_report(columns: PairColumns, record: WearRecord) -> dict[str, Any]:
    """The owner's first report of a wear.

    Pairs in which the sensor was out of its range, and fingersticks that calibrated it, are counted and not measured.

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
    """
    measured = (columns.mark == 0) & (columns.prompt != PROMPTS.index("calibration"))
    reference, sensor = columns.reference_mg_dl[measured], columns.sensor_mg_dl[measured]
    report: dict[str, Any] = {
        "site": record.site,
        "site_label": label(record.site),
        "worn_days": round(record.worn_min / 1440, 1),
        "n_pairs": int(reference.size),
        "n_out_of_range": int(np.sum(columns.mark != 0)),
        "n_calibrating": int(np.sum(columns.prompt == PROMPTS.index("calibration"))),
    }
    if reference.size:
        report |= _measures(reference, sensor)
    return report | {
        "findings": msgspec.to_builtins(find(columns, record)),
        "cannot_say": list(CANNOT_SAY),
        "rules": RULES,
        "caution": {"version": CAUTION_VERSION, "text": CAUTION_TEXT},
    }


def _measures(reference: NDArray[np.float64], sensor: NDArray[np.float64]) -> dict[str, Any]:
    measures = {name: value if name == "n_pairs" else round(value, 2) for name, value in _agreement(reference, sensor)}
    return measures | {
        "consensus_zones_pct": _shares(consensus_zones(reference, sensor)),
        "clarke_zones_pct": _shares(clarke_zones(reference, sensor)),
        "in_words": _in_words(measures["mard_pct"], measures["relative_bias_pct"]),
    }


def _agreement(reference: NDArray[np.float64], sensor: NDArray[np.float64]) -> list[tuple[str, float]]:
    return list(asdict(agreement(reference, sensor)).items())


def _shares(zones: NDArray[np.str_]) -> dict[str, float]:
    return {zone: round(100 * float(np.mean(zones == zone)), 1) for zone in _ZONES}


def _in_words(mard_pct: float, relative_bias_pct: float) -> str:
    """Life units first: what the figures mean beside a fingerstick of 100 mg/dL."""
    tendency = (
        "rather high" if relative_bias_pct > 2 else "rather low" if relative_bias_pct < -2 else "neither high nor low"
    )
    return (
        f"Beside a fingerstick of 100 mg/dL the sensor was off by about {mard_pct:.0f} mg/dL on average, "
        f"and read {tendency}."
    )
