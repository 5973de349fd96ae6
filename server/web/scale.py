"""What a drawing of the body may be coloured by, and the five steps of each: the darker, the less well it serves.

The cuts are fixed, so that a colour means the same in every edition. They are round numbers and no clinical limits.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

STEPS: Final = (1, 2, 3, 4, 5)


@dataclass(frozen=True, slots=True)
class Step:
    """One entry of the legend; the style sheet has its colour under `.step-<number>`."""

    number: int
    words: str


@dataclass(frozen=True, slots=True)
class Scale:
    """Four cuts from the best end on: rising where less is better, falling where more is.

    `name` is what the figure is called, `title` says what the drawing shows, `says` what one site shows.
    """

    cuts: tuple[int, ...]
    name: Any
    title: Any
    says: Any

    @property
    def rises(self) -> bool:
        return self.cuts[0] < self.cuts[-1]

    def step_of(self, value: float) -> int:
        """The step of a value; one on a cut belongs to the step above it."""
        passed = sum(value >= cut if self.rises else value < cut for cut in self.cuts)
        return STEPS[passed]

    def legend(self) -> tuple[Step, ...]:
        """The steps in words, the lightest first."""
        rising = sorted(self.cuts)
        between = [_("%(low)s to under %(high)s") % {"low": low, "high": high} for low, high in pairwise(rising)]
        words = [_("under %(high)s") % {"high": rising[0]}, *between, _("%(low)s and over") % {"low": rising[-1]}]
        return tuple(
            Step(number, text) for number, text in zip(STEPS, words if self.rises else words[::-1], strict=True)
        )


_RATING_CUTS: Final = (8, 7, 6, 5)
SCALES: Final[Mapping[str, Scale]] = {
    "accuracy": Scale(
        (8, 10, 12, 14),
        gettext_lazy("Expected difference from the fingerstick (MARD, %)"),
        gettext_lazy("Expected difference from the fingerstick (MARD, %), site by site: darker is farther off"),
        gettext_lazy("%(site)s: expected difference %(figure)s %%"),
    ),
    "stays_on": Scale(
        (95, 90, 80, 70),
        gettext_lazy("Still on at the end of the rated life, of 100"),
        gettext_lazy("Sensors still on at the end of their rated life, of 100: darker is fewer"),
        gettext_lazy("%(site)s: %(figure)s of 100 still on at the end of the rated life"),
    ),
    "skin": Scale(
        (5, 10, 20, 30),
        gettext_lazy("People whose skin reacted, of 100"),
        gettext_lazy("People whose skin reacted, of 100: darker is more"),
        gettext_lazy("%(site)s: skin reacted in %(figure)s of 100 people"),
    ),
    "ease": Scale(
        _RATING_CUTS,
        gettext_lazy("Being easy to place (0 to 10)"),
        gettext_lazy("How easy the sensor is to place, 0 to 10: darker is less"),
        gettext_lazy("%(site)s: %(figure)s of 10 for being easy to place"),
    ),
    "comfort": Scale(
        _RATING_CUTS,
        gettext_lazy("Comfort (0 to 10)"),
        gettext_lazy("Comfort, 0 to 10: darker is less"),
        gettext_lazy("%(site)s: %(figure)s of 10 for comfort"),
    ),
    "discretion": Scale(
        _RATING_CUTS,
        gettext_lazy("Showing little (0 to 10)"),
        gettext_lazy("How little the sensor shows, 0 to 10: darker is less"),
        gettext_lazy("%(site)s: %(figure)s of 10 for showing little"),
    ),
}
