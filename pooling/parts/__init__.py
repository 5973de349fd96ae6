"""Tables that come from parts of blocks: by phase of the wear, by range, by prompt, and lows missed and false lows."""

from pooling.parts.estimates import DAYS_ALIKE, LowRow, PartRow, Parts, estimate
from pooling.parts.saying import SHOWN_MG_DL, References, fingerstick_range

__all__ = ["DAYS_ALIKE", "SHOWN_MG_DL", "LowRow", "PartRow", "Parts", "References", "estimate", "fingerstick_range"]
