"""Glucose units: two ways of writing the same concentration, and one constant between them.

Readings are kept in the unit they were typed in and converted once, in float64, at the moment of computing.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pooling.errors import InvalidInput

MG_DL = "mg/dL"
MMOL_L = "mmol/L"

# Molar mass of glucose 180.156 g/mol (LOINC group LG7967-5), so 1 mmol/L is 180.156 mg in ten decilitres.
MG_DL_PER_MMOL_L = 18.0156

# The consensus range edges are agreed figures in each unit, not conversions of one another: 70-180 mg/dL and
# 3.9-10.0 mmol/L (Diabetes Care 2019;42:1593). 10.0 mmol/L is 180.156 mg/dL and still inside the range, so a reading
# is compared with the edge of the unit it was typed in. Both values themselves are inside.
LOW_BELOW = {MG_DL: 70.0, MMOL_L: 3.9}
HIGH_ABOVE = {MG_DL: 180.0, MMOL_L: 10.0}

# Decimals on a display.
DECIMALS = {MG_DL: 0, MMOL_L: 1}


def to_mg_dl(values: ArrayLike, unit: str) -> NDArray[np.float64]:
    """Convert readings from the unit they were typed in to mg/dL.

    Parameters
    ----------
    values : array_like of any shape
        Readings in `unit`. NaN stays NaN.
    unit : {"mg/dL", "mmol/L"}
        Spelled as in UCUM; case matters.

    Returns
    -------
    ndarray of float64, same shape

    Raises
    ------
    InvalidInput
        If `unit` is neither of the two.

    Examples
    --------
    >>> to_mg_dl([10.0], "mmol/L").tolist()
    [180.156]
    >>> to_mg_dl([180], "mg/dL").tolist()
    [180.0]
    """
    return np.asarray(values, dtype=np.float64) * _factor(unit)


def from_mg_dl(values: ArrayLike, unit: str) -> NDArray[np.float64]:
    """Convert mg/dL to the unit in which they will be shown; the inverse of `to_mg_dl`, with the same errors.

    Examples
    --------
    >>> from_mg_dl([180.156], "mmol/L").round(6).tolist()
    [10.0]
    """
    return np.asarray(values, dtype=np.float64) / _factor(unit)


def glucose_text(value_mg_dl: float, unit: str) -> str:
    """A reading as displays show it: whole mg/dL, or mmol/L with one decimal; errors as `to_mg_dl`.

    Examples
    --------
    >>> glucose_text(100, "mg/dL"), glucose_text(100, "mmol/L")
    ('100', '5.6')
    """
    return f"{float(from_mg_dl(value_mg_dl, unit)):.{DECIMALS[unit]}f}"


def difference_text(value_mg_dl: float, unit: str) -> str:
    """A difference of readings, with one decimal more than a display has; errors as `to_mg_dl`.

    Examples
    --------
    >>> difference_text(12.3, "mg/dL"), difference_text(12.3, "mmol/L")
    ('12.3', '0.68')
    """
    return f"{float(from_mg_dl(value_mg_dl, unit)):.{DECIMALS[unit] + 1}f}"


def _factor(unit: str) -> float:
    if unit == MG_DL:
        return 1.0
    if unit == MMOL_L:
        return MG_DL_PER_MMOL_L
    raise InvalidInput(f"glucose unit must be {MG_DL!r} or {MMOL_L!r}, spelled exactly so")
