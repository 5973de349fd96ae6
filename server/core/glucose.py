"""Glucose as a reader sees it, in the unit the reader chose."""

from typing import Final

from pooling.units import from_mg_dl

UNITS: Final = ("mg/dL", "mmol/L")


def glucose_text(value_mg_dl: float, unit: str) -> str:
    """Whole mg/dL, or mmol/L with one decimal, as displays show it."""
    if unit == "mmol/L":
        return f"{float(from_mg_dl(value_mg_dl, unit)):.1f}"
    return f"{value_mg_dl:.0f}"
