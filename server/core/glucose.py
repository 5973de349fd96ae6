"""Glucose as a reader sees it, in the unit the reader chose."""

from typing import Final

from pooling.units import MG_DL, MMOL_L, glucose_text

__all__ = ["UNITS", "glucose_text"]

UNITS: Final = (MG_DL, MMOL_L)
