"""Glucose as a reader sees it, in the unit the reader chose."""

from typing import Final

from pooling.units import DECIMALS, MG_DL, MMOL_L, from_mg_dl, glucose_text

__all__ = ["UNITS", "difference_text", "glucose_text"]

UNITS: Final = (MG_DL, MMOL_L)


def difference_text(mg_dl: float, unit: str) -> str:
    """A difference of readings, with one decimal more than a display has."""
    return f"{float(from_mg_dl(mg_dl, unit)):.{DECIMALS[unit] + 1}f}"
