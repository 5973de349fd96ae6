"""What a finding is, what a check is given, and the words shared by all of them."""

from collections.abc import Callable, Iterator
from typing import Protocol

from msgspec import Struct

from pooling.columns import PairColumns
from pooling.units import MMOL_L, from_mg_dl

FEWEST_PAIRS = 8
"""Below this a wear cannot enter the pooled accuracy figures."""
FEW_FOR_A_PATTERN = 12
"""Below this, patterns (stuck, copied, rounded) are as well chance."""
UNIT_RATIO = (12.0, 30.0)
"""A column in mmol/L beside one in mg/dL is 18 times smaller, give or take what sensor and meter differ."""


class Finding(Struct, frozen=True):
    """One remark about data quality. Severity: note (worth knowing), look (worth a check), stop (mend or leave out)."""

    code: str
    severity: str
    seen: str
    why: str
    do: str


class WearFacts(Protocol):
    """What checks ask of a wear beyond its pairs; a `WearRecord` has it all."""

    @property
    def worn_min(self) -> int: ...
    @property
    def calibrated(self) -> bool: ...
    @property
    def meter_class(self) -> str: ...


Check = Callable[[PairColumns, WearFacts], Iterator[Finding]]


def in_both(mg_dl: float) -> str:
    """A level or a pace in both units, for remarks that are read by people of either.

    >>> in_both(180), in_both(8)
    ('180 mg/dL (10.0 mmol/L)', '8 mg/dL (0.44 mmol/L)')
    """
    mmol_l = float(from_mg_dl(mg_dl, MMOL_L))
    return f"{mg_dl:g} mg/dL ({mmol_l:.{1 if mmol_l >= 1 else 2}f} mmol/L)"


def wrong_unit(seen: str) -> Finding:
    """The one remark about units, wherever it was seen."""
    return Finding(
        "wrong_unit",
        "stop",
        seen,
        "Readings in mmol/L are about 18 times smaller than in mg/dL; mixed up, they make a sensor look absurd.",
        "Check which unit each display or file uses, and give every reading in the unit that it is stated in.",
    )
