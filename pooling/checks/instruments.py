"""Findings about the two instruments: swapped or copied columns, a stuck sensor, mixed units, a meter that scatters."""

from collections.abc import Iterator

import numpy as np
from scipy import special

from pooling.checks.finding import (
    FEW_FOR_A_PATTERN,
    FEWEST_PAIRS,
    UNIT_RATIO,
    Finding,
    WearFacts,
    wrong_unit,
)
from pooling.columns import NO_RATE, NO_REPLICATE, PairColumns
from pooling.vocabulary import counted

TIGHT_SPREAD = 0.005
LEADS_BY_MIN, SURE_SES = 1.0, 2.8
FEWEST_REPLICATES = 5
STATED_PCT = {"within-10-pct": 10.0, "within-15-pct": 15.0, "within-20-pct": 20.0, "unknown": 15.0}
"""What 95 % of a meter's readings stay within; unknown meters are held to ISO 15197:2013."""
SURE = 0.99


def swapped(columns: PairColumns, wear: WearFacts) -> Iterator[Finding]:
    """A sensor that runs ahead of the fingerstick the more, the faster glucose moves.

    A sensor trails blood, so the difference falls with the rate of change; of swapped columns it rises. The check
    speaks when the slope, in minutes, is at least one and 2.8 standard errors above zero.
    """
    known = (columns.mark == 0) & (columns.rate_hundredths != NO_RATE)
    if wear.calibrated or int(known.sum()) < FEW_FOR_A_PATTERN:
        return
    rate = columns.rate_hundredths[known] / 100
    if np.ptp(rate) == 0:
        return
    (squares, together), (_, squares_off) = np.cov(rate, (columns.sensor_mg_dl - columns.reference_mg_dl)[known])
    leads_by_min = together / squares
    standard_error = np.sqrt(max(squares_off / squares - leads_by_min**2, 0.0) / (rate.size - 2))
    if leads_by_min >= max(LEADS_BY_MIN, SURE_SES * standard_error):
        yield Finding(
            "swapped_columns",
            "look",
            "The faster glucose moved, the further the sensor was ahead of the fingerstick.",
            "A sensor follows blood glucose with a lag; one that leads suggests that the two columns are swapped.",
            "Check which column is the fingerstick.",
        )


def copied(columns: PairColumns, wear: WearFacts) -> Iterator[Finding]:  # noqa: ARG001
    """Two instruments that agree better than two instruments can."""
    reference, sensor = columns.numbers_mg_dl
    if reference.size < FEW_FOR_A_PATTERN:
        return
    difference = sensor - reference
    if np.mean(np.abs(difference) < 0.5) >= 0.9:
        seen, code = "Sensor and fingerstick are the same in nearly every pair.", "copied_readings"
    elif np.ptp(difference) < 1.0 or np.std(np.log(sensor / reference)) < TIGHT_SPREAD:
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


def stuck(columns: PairColumns, wear: WearFacts) -> Iterator[Finding]:  # noqa: ARG001
    """A sensor that shows one number while the fingersticks move."""
    reference, sensor = columns.numbers_mg_dl
    if reference.size >= FEWEST_PAIRS and np.ptp(sensor) == 0 and np.ptp(reference) > 20:
        yield Finding(
            "stuck_sensor",
            "stop",
            "The sensor showed one and the same number throughout.",
            "A sensor that does not move measures nothing.",
            "If the file is right, end the wear as a device error; otherwise check the sensor column.",
        )


def mixed_units(columns: PairColumns, wear: WearFacts) -> Iterator[Finding]:  # noqa: ARG001
    """Pairs that lie inside what the record may hold, but 18 times apart."""
    reference, sensor = columns.numbers_mg_dl
    ratio = np.maximum(reference, sensor) / np.minimum(reference, sensor)
    n_mixed = int(np.sum((ratio >= UNIT_RATIO[0]) & (ratio <= UNIT_RATIO[1])))
    if n_mixed:
        yield wrong_unit(f"In {counted(n_mixed, 'pair')} one reading is about 18 times the other.")


def meter_noise(columns: PairColumns, wear: WearFacts) -> Iterator[Finding]:
    """Second strips that scatter more than the meter's stated accuracy leaves room for.

    Of a meter without bias, 95 % of readings within p % means a coefficient of variation of p / 1.96. The check speaks
    when the lower 99 % limit of the one measured (chi-square, from differences of log readings) lies above it.
    """
    twice = columns.replicate_hundredths != NO_REPLICATE
    n_twice = int(twice.sum())
    if n_twice < FEWEST_REPLICATES:
        return
    difference = np.log(columns.replicate_hundredths[twice] / columns.reference_hundredths[twice])
    variance = float(np.sum(difference**2)) / 2
    lower_cv_pct = 100 * np.sqrt(variance / special.chdtri(n_twice, 1 - SURE))
    stated_pct = STATED_PCT[wear.meter_class]
    if lower_cv_pct > stated_pct / 1.96:
        yield Finding(
            "meter_noise",
            "look",
            f"Second strips differ from the first by {100 * np.sqrt(variance / n_twice):.0f} % as a rule "
            f"({counted(n_twice, 'replicate')}).",
            f"A meter that stays within {stated_pct:g} % scatters less; part of what looks like the sensor's error is "
            "the meter's.",
            "Wash and dry hands before a strip, check the date of the strips, and use one drop for both strips.",
        )
