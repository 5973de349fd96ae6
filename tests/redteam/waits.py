"""How much more would other waits and caps show? `python -m tests.redteam.waits [SEEDS]`

Per wait for giving up the model and the site, and cap on open wears: margins, site, site and model, and what waits,
after twenty editions, in percent of the wears within that cap.
"""

import sys
from collections.abc import Sequence
from dataclasses import replace

from pooling.ledger import LEVELS, Level
from tests.redteam.goal_e import STORIES, Shown, twenty_editions

WAITS = ((0, 3), (1, 3), (2, 4), (3, 6), (4, 8), (6, 12))
CAPS = (1, 2, 3, 5)


def levels_with(model: int, site: int) -> Sequence[Level]:
    waits = {True: 0, False: model}
    return tuple(replace(level, wait=waits[level.model] if level.place == "site" else site) for level in LEVELS)


def main() -> None:
    seeds = range(int(sys.argv[1]) if len(sys.argv) > 1 else 1)
    for name, world, *_ in STORIES:
        sys.stdout.write(f"{name}\n")
        options = [(waits, 3) for waits in WAITS] + [((2, 4), cap) for cap in CAPS if cap != 3]
        for (model, site), cap in options:
            found = [twenty_editions(world(s), s, levels=levels_with(model, site), cap=cap) for s in seeds]
            sys.stdout.write(f"  model {model}, site {site}, cap {cap}: {Shown.mean(found)}\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main()
