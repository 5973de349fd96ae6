"""The one colour scale of all drawings: five steps of two points of MARD, each darker than the one before.

The cuts are fixed, so that a colour means the same in every edition. They are round numbers and no clinical limits.
"""

from bisect import bisect_right
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from django.utils.translation import gettext as _

CUTS_PCT: Final = (8, 10, 12, 14)
STEPS: Final = tuple(range(1, len(CUTS_PCT) + 2))


@dataclass(frozen=True, slots=True)
class Step:
    """One entry of the legend; the style sheet has its colour under `.step-<number>`."""

    number: int
    words: str


def step_of(mard_pct: float) -> int:
    """The step of an expected MARD; a value on a cut belongs to the step above it."""
    return STEPS[bisect_right(CUTS_PCT, mard_pct)]


def legend() -> tuple[Step, ...]:
    """The steps in words, smallest first."""
    between = [_("%(low)s to under %(high)s") % {"low": low, "high": high} for low, high in pairwise(CUTS_PCT)]
    words = (_("under %(high)s") % {"high": CUTS_PCT[0]}, *between, _("%(low)s and over") % {"low": CUTS_PCT[-1]})
    return tuple(Step(number, text) for number, text in zip(STEPS, words, strict=True))
