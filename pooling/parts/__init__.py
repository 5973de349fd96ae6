"""Tables that come from parts of blocks: by phase, range and prompt, lows missed and false, by lot against chosen."""

from pooling.parts.estimates import DAYS_ALIKE, LowRow, PartRow, Parts, estimate
from pooling.parts.lots import LotRow
from pooling.parts.saying import SHOWN_MG_DL, References, fingerstick_range

__all__ = [
    "DAYS_ALIKE",
    "SHOWN_MG_DL",
    "LotRow",
    "LowRow",
    "PartRow",
    "Parts",
    "References",
    "estimate",
    "fingerstick_range",
]
