"""mg/dL or mmol/L: what the magnitudes of a column say, and columns in which they cannot be right."""

import numpy as np
from numpy.typing import NDArray

from pooling.errors import InvalidInput
from pooling.importing.limits import at
from pooling.units import MG_DL, MMOL_L

# What a display can show in either unit: 18 to 600 mg/dL are 1.0 to 33.3 mmol/L (common practice, no source). A column
# that stays within 18 to 33.3 throughout could be either.
BOUNDS = {MG_DL: (18.0, 600.0), MMOL_L: (1.0, 33.3)}


def unit_of(numbers: NDArray[np.float64]) -> str | None:
    """The unit in which every reading can be right; None if that is both or neither (or there is none).

    Examples
    --------
    >>> unit_of(np.array([4.1, 22.0])), unit_of(np.array([24.0, 160.0])), unit_of(np.array([19.0, 31.0]))
    ('mmol/L', 'mg/dL', None)
    """
    numbers = numbers[~np.isnan(numbers)]
    possible = [unit for unit in BOUNDS if numbers.size and not outside(numbers, unit).any()]
    return possible[0] if len(possible) == 1 else None


def outside(numbers: NDArray[np.float64], unit: str) -> NDArray[np.bool_]:
    """Which readings lie beyond what any display shows in this unit; NaN does not."""
    lowest, highest = BOUNDS[unit]
    return (numbers < lowest) | (numbers > highest)


def check_magnitudes(numbers: NDArray[np.float64], lines: NDArray[np.int64], column: int, unit: str | None) -> None:
    """Refuse readings that cannot be in the unit.

    Raises
    ------
    InvalidInput
        If the unit is not known, or with the lines whose readings cannot be in it.
    """
    if unit not in BOUNDS:
        raise InvalidInput(f"say whether the readings are in {MG_DL} or {MMOL_L}; the file does not")
    odd = outside(numbers, unit)
    if not odd.any():
        return
    lowest, highest = BOUNDS[unit]
    other = MMOL_L if unit == MG_DL else MG_DL
    mixed = not outside(numbers[odd], other).any()
    advice = f"are some lines, or all, in {other}? A file has to keep to one unit" if mixed else "correct these cells"
    raise InvalidInput(
        f"{at(lines[odd], column)}: outside {lowest:g} to {highest:g} {unit}, which no reading can be; {advice}"
    )
