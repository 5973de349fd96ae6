"""How much of a wear's differences could be the meter's own."""

import math
from typing import Any

import numpy as np
from scipy import stats

from pooling.accuracy import CONFIDENCE, HALF_NORMAL_MEAN
from pooling.checks import FEWEST_PAIRS
from pooling.columns import NO_REPLICATE, PairColumns
from pooling.comparison import repeat_sd

BAND_PCT = {"within-10-pct": 10, "within-15-pct": 15, "within-20-pct": 20}
ASSUMED_PCT = 15
"""What ISO 15197:2013 asks of a meter: 95 % within 15 % (15 mg/dL below 100)."""


def meter_part(columns: PairColumns, meter_class: str, mard_pct: float) -> dict[str, Any]:
    """What the meter alone would make of the MARD, and what is left for the sensor.

    Assumptions: errors of meter and sensor are independent, unbiased, and normal in per cent. Then a meter of
    coefficient of variation c gives a perfect sensor a MARD of sqrt(2/pi) c, and squares of MARDs add up. c comes from
    second strips where there are eight of them (which does not see what both strips share), else from the class: a
    meter that keeps 95 % of its readings within b % has c = b / 1.96.

    Parameters
    ----------
    columns : PairColumns
        All pairs of the wear; a second strip counts whatever the sensor showed.
    meter_class : str
        Of the vocabulary. Unknown is taken as 15 %, and said to be.
    mard_pct : float

    Returns
    -------
    dict
        `basis` (replicates, class or assumed), `band_pct`, `cv_pct`, `n_replicates`, `mard_of_meter_pct`, and
        `mard_without_meter_pct`, which is 0 where the meter alone could explain everything.

    References
    ----------
    The mean of an absolute normal error is sqrt(2/pi) of its sd (any textbook).

    Examples
    --------
    >>> empty = PairColumns(*[np.empty(0)] * 9, glucose_unit="mg/dL")
    >>> found = meter_part(empty, "within-15-pct", 8.92)
    >>> found["cv_pct"], found["mard_of_meter_pct"]
    (7.65, 6.1)
    """
    again = columns.only(columns.replicate_hundredths != NO_REPLICATE)
    band_pct = None
    if again.n_pairs >= FEWEST_PAIRS:
        basis = "replicates"
        cv_pct = 100 * repeat_sd(np.log(again.reference_hundredths), np.log(again.replicate_hundredths))
    else:
        basis, band_pct = ("class", BAND_PCT[meter_class]) if meter_class in BAND_PCT else ("assumed", ASSUMED_PCT)
        cv_pct = band_pct / float(stats.norm.ppf(0.5 + CONFIDENCE / 2))
    of_meter = HALF_NORMAL_MEAN * cv_pct
    return {
        "basis": basis,
        "band_pct": band_pct,
        "n_replicates": again.n_pairs,
        "cv_pct": round(cv_pct, 2),
        "mard_of_meter_pct": round(of_meter, 1),
        "mard_without_meter_pct": round(math.sqrt(max(0.0, mard_pct**2 - of_meter**2)), 1),
    }
