"""Findings: what in a wear's data looks odd, why that matters, and what to do. Nothing is ever mended silently.

A reading in the wrong unit is no finding: it lies outside what the stated unit allows, and the record is refused.
"""

from collections.abc import Callable, Iterator

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from pooling.columns import PairColumns
from pooling.record import WearRecord
from pooling.vocabulary import PROMPTS

Floats = NDArray[np.float64]

FEWEST_PAIRS = 8
"""Below this a wear cannot enter the pooled accuracy figures."""
FEW_FOR_A_PATTERN = 12
"""Below this, patterns (stuck, copied, rounded) are as well chance."""
LOW_MG_DL, HIGH_MG_DL = 70.0, 180.0
_TIGHT_SPREAD = 0.005


class Finding(Struct, frozen=True):
    """One remark about data quality. Severity: note (worth knowing), look (worth a check), stop (mend or leave out)."""

    code: str
    severity: str
    seen: str
    why: str
    do: str


def find(columns: PairColumns, record: WearRecord) -> tuple[Finding, ...]:
    """Everything worth remarking about the pairs of a wear, in a fixed order.

    Thresholds are common practice, chosen so that well-kept wears stay without a remark; none is from a standard.

    Parameters
    ----------
    columns
        The pairs.
    record
        The record they came in.

    Returns
    -------
    tuple[Finding, ...]
        Empty for a wear without anything odd.
    """
    return tuple(finding for check in _CHECKS for finding in check(columns, record))


Check = Callable[[PairColumns, WearRecord], Iterator[Finding]]


def _numbers(columns: PairColumns) -> tuple[Floats, Floats]:
    """Reference and sensor of the pairs in which the sensor showed a number."""
    numeric = columns.mark == 0
    return columns.reference_mg_dl[numeric], columns.sensor_mg_dl[numeric]


def _too_few(columns: PairColumns, record: WearRecord) -> Iterator[Finding]:  # noqa: ARG001
    counted = int(np.sum((columns.mark == 0) & (columns.prompt != PROMPTS.index("calibration"))))
    if counted < FEWEST_PAIRS:
        yield Finding(
            "too_few_pairs",
            "note",
            f"{counted} pairs can be counted.",
            f"Accuracy figures take wears with at least {FEWEST_PAIRS} pairs; time on the skin counts all the same.",
            "Nothing needs doing. In a next wear, a few fingersticks a day at quiet times would do.",
        )


def _swapped(columns: PairColumns, record: WearRecord) -> Iterator[Finding]:
    """A sensor that runs ahead of the fingerstick whenever glucose moves at 1 mg/dL a minute or faster."""
    rate = columns.rate_hundredths
    known = (columns.mark == 0) & (rate != np.iinfo(rate.dtype).min) & (np.abs(rate) >= 100)
    if record.calibrated or int(known.sum()) < FEW_FOR_A_PATTERN:
        return
    difference = (columns.sensor_mg_dl - columns.reference_mg_dl)[known]
    ahead = np.sign(difference) == np.sign(rate[known])
    if np.mean(ahead) >= 0.9:
        yield Finding(
            "swapped_columns",
            "look",
            "While glucose moved fast, the sensor was nearly always ahead of the fingerstick.",
            "A sensor follows blood glucose with a lag; one that leads suggests that the two columns are swapped.",
            "Check which column is the fingerstick.",
        )


def _copied(columns: PairColumns, record: WearRecord) -> Iterator[Finding]:  # noqa: ARG001
    reference, sensor = _numbers(columns)
    if reference.size < FEW_FOR_A_PATTERN:
        return
    difference = sensor - reference
    if np.mean(np.abs(difference) < 0.5) >= 0.9:
        seen, code = "Sensor and fingerstick are the same in nearly every pair.", "copied_readings"
    elif np.ptp(difference) < 1.0 or np.std(np.log(sensor / reference)) < _TIGHT_SPREAD:
        seen, code = "Sensor and fingerstick differ by the same amount in every pair.", "constant_offset"
    else:
        return
    yield Finding(
        code,
        "stop",
        seen,
        "Two instruments never agree so well; one column was probably filled in from the other.",
        "Upload the readings as the two displays showed them.",
    )


def _stuck(columns: PairColumns, record: WearRecord) -> Iterator[Finding]:  # noqa: ARG001
    reference, sensor = _numbers(columns)
    if reference.size >= FEWEST_PAIRS and np.ptp(sensor) == 0 and np.ptp(reference) > 20:
        yield Finding(
            "stuck_sensor",
            "stop",
            "The sensor showed one and the same number throughout.",
            "A sensor that does not move measures nothing.",
            "If the file is right, end the wear as a device error; otherwise check the sensor column.",
        )


def _digits(columns: PairColumns, record: WearRecord) -> Iterator[Finding]:  # noqa: ARG001
    typed = columns.reference_hundredths
    if columns.glucose_unit != "mg/dL" or typed.size < 2 * FEW_FOR_A_PATTERN:
        return
    round_numbers = float(np.mean(typed % 1000 == 0))
    if round_numbers >= 0.5:
        yield Finding(
            "digit_preference",
            "look",
            f"{100 * round_numbers:.0f} % of the fingersticks end in 0.",
            "About one in ten would; rounded values hide small differences.",
            "Type the number on the meter's display as it stands.",
        )


def _all_in_doubt(columns: PairColumns, record: WearRecord) -> Iterator[Finding]:  # noqa: ARG001
    if columns.n_pairs >= FEWEST_PAIRS and np.all(columns.prompt == PROMPTS.index("doubt")):
        yield Finding(
            "all_in_doubt",
            "look",
            "Every fingerstick was taken because the sensor was doubted.",
            "Checks taken in doubt find the bad moments and make any sensor look worse than it is.",
            "In a next wear, add fingersticks at fixed times, whatever the sensor shows.",
        )


def _one_sided(columns: PairColumns, record: WearRecord) -> Iterator[Finding]:  # noqa: ARG001
    reference = columns.reference_mg_dl
    if reference.size < FEW_FOR_A_PATTERN:
        return
    for where, inside in (("below 70", reference < LOW_MG_DL), ("above 180", reference > HIGH_MG_DL)):
        if np.mean(inside) >= 0.9:
            yield Finding(
                "one_sided_range",
                "note",
                f"Nearly all fingersticks were {where} mg/dL.",
                "How far a sensor is off differs with the level; this wear speaks of one level only.",
                "Nothing needs doing; figures take the level into account.",
            )


def _repeated(columns: PairColumns, record: WearRecord) -> Iterator[Finding]:  # noqa: ARG001
    rows = np.column_stack([columns.elapsed_min, columns.reference_hundredths, columns.sensor_hundredths])
    n_repeated = len(rows) - len(np.unique(rows, axis=0)) if len(rows) else 0
    if n_repeated:
        yield Finding(
            "repeated_pairs",
            "look",
            f"{n_repeated} pairs stand in the record more than once.",
            "The same reading counted twice makes a figure look surer than it is.",
            "Remove the repeated rows and upload again.",
        )


def _calibrations(columns: PairColumns, record: WearRecord) -> Iterator[Finding]:  # noqa: ARG001
    n_calibrations = int(np.sum(columns.prompt == PROMPTS.index("calibration")))
    if n_calibrations:
        yield Finding(
            "calibration_pairs",
            "note",
            f"{n_calibrations} fingersticks were used to calibrate the sensor.",
            "A reading that the sensor was told is no independent check; these pairs are kept and not counted.",
            "Nothing needs doing.",
        )


_CHECKS: tuple[Check, ...] = (
    _too_few,
    _swapped,
    _copied,
    _stuck,
    _digits,
    _all_in_doubt,
    _one_sided,
    _repeated,
    _calibrations,
)
