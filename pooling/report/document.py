"""A wear's own report as JSON values: figures in mg/dL, and words in one unit."""

from collections.abc import Sequence
from typing import Any

import msgspec
import numpy as np

from pooling.caution import CAUTION_TEXT, CAUTION_VERSION
from pooling.checks import find
from pooling.columns import PairColumns
from pooling.record import WearRecord
from pooling.report import figures, methods, words
from pooling.report.bootstrap import generator_of
from pooling.report.levels import levels
from pooling.report.licence import LicensedSite, status_of
from pooling.report.meter import meter_part
from pooling.summary import SummaryRules, summarise
from pooling.vocabulary import PROMPTS, SKIN_GRADES, label

_COUNT_EVERYTHING = SummaryRules(version=0)


def wear_report(
    columns: PairColumns,
    record: WearRecord,
    *,
    unit: str | None = None,
    licensed: Sequence[LicensedSite] | None = None,
    ages: str | None = None,
) -> dict[str, Any]:
    """The owner's report of a wear. It holds no single reading.

    Pairs in which the sensor was out of its range, and fingersticks that calibrated it, are counted and not measured;
    a reading out of range still counts among the lows. The same wear always gives the same report: what is drawn at
    random is drawn by a generator seeded with the readings.

    Parameters
    ----------
    columns
        The pairs of the wear.
    record
        The record they came in; its pairs are not looked at.
    unit
        "mg/dL" or "mmol/L", for words; that of the record by default.
    licensed
        Sites that the instructions of this sensor model name; None where that is not known.
    ages
        The wearer's age class, "adult" or "child"; None where it is not known.

    Returns
    -------
    dict
        JSON values; glucose in mg/dL. Without a pair to measure, the measures are absent and `n_pairs` is 0; what too
        few pairs cannot support is absent or None.

    Raises
    ------
    InvalidInput
        If a pair lies after the end of the wear, or there is no such unit.
    """
    unit = unit or record.glucose_unit
    report = _wear(record, status_of(record.site, licensed, ages)) | _counts(columns, record)
    pairs = figures.measured(columns)
    if pairs.n_pairs:
        report |= _measures(pairs)
        report["meter"] = meter_part(columns, record.meter_class, report["mard_pct"])
    return report | {
        "in_words": " ".join(words.in_words(report, unit)),
        "findings": msgspec.to_builtins(find(columns, record)),
        "cannot_say": words.cannot_say(report),
        "rules": words.rules(unit),
        "caution": {"version": CAUTION_VERSION, "text": CAUTION_TEXT},
    }


def _wear(record: WearRecord, licence: str) -> dict[str, Any]:
    """What is known of the wear apart from its readings."""
    return {
        "site": record.site,
        "site_label": label(record.site),
        "side": record.side,
        "sensor_model": record.sensor_model,
        "licence": {"status": licence, "says": words.SAYS_OF_LICENCE[licence]},
        "worn_days": round(record.worn_min / 1440, 1),
        "ended": label(record.end_reason),
        "calibrated": record.calibrated,
        "events": [
            {"day": 1 + event.elapsed_min // 1440, "what": label(event.kind)}
            for event in sorted(record.events, key=lambda event: event.elapsed_min)
        ],
        "skin": None
        if record.skin is None
        else {
            "grade": record.skin.grade,
            "says": SKIN_GRADES[record.skin.grade],
            "signs": [label(sign) for sign in record.skin.signs],
        },
        "ratings": None
        if record.ratings is None
        else {name: getattr(record.ratings, name) for name in ("ease", "comfort", "discretion", "rated_by")},
    }


def _counts(columns: PairColumns, record: WearRecord) -> dict[str, Any]:
    summary = summarise(
        columns,
        worn_min=record.worn_min,
        end_reason=record.end_reason,
        skin_grade=None,
        ratings=None,
        rules=_COUNT_EVERYTHING,
    )
    return {
        "n_pairs": figures.measured(columns).n_pairs,
        "n_out_of_range": int(np.sum(columns.mark != 0)),
        "n_calibrating": int(np.sum(columns.prompt == PROMPTS.index("calibration"))),
        "lows": figures.lows(summary),
    }


def _measures(pairs: PairColumns) -> dict[str, Any]:
    rng = generator_of(pairs)
    return (
        figures.headline(pairs)
        | figures.margins(pairs, rng)
        | figures.zone_shares(pairs)
        | levels(pairs.reference_mg_dl, pairs.sensor_mg_dl)
        | {
            "groups": figures.groups(pairs, rng),
            "limits": methods.limits(pairs),
            "lines": methods.lines(pairs),
        }
    )
