"""Goal O: whoever knows all others of a sum, the operator or the others together, learns no more of the last one.

The attacks are those of `tests.redteam.last_one`, which prints them channel by channel. A naive build adds no noise.
"""

from collections.abc import Iterator

from tests.redteam.last_one import Tries, attack
from tests.redteam.registry import Effort, Goal, Line

FAMILIES = (("accuracy", 10, "location"), ("survival", 10, "on_rated"), ("skin", 10, "reaction"), ("ease", 10, "ease"))
CHANCE = 2.0
"""Standard errors of the difference from guessing that are left to chance."""


def run(effort: Effort) -> Iterator[Line]:
    n_tries = effort.pick(600, 80)
    for family, n_people, channel in FAMILIES:
        found = {own.channel: own for own in attack(family, n_people, n_tries=n_tries, seed=effort.seed)}
        slack = CHANCE * (0.5 / n_tries) ** 0.5
        own = found[channel]
        yield Line(
            f"the last of {n_people}, {channel}, {n_tries} tries; guessing {own.guess:.2f}",
            f"{own.naive:.2f}",
            f"{own.alone:.2f}; by all of {family} {own.by_everything:.2f}",
            _broken(own) and all(each.best <= each.guess + each.margin + slack for each in found.values()),
        )


def _broken(own: Tries) -> bool:
    return own.naive > 0.95


GOAL = Goal("O", "the last one in a sum is no better known than by guessing.", run)
