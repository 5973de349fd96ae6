"""One wear taken back, before and after, table by table and byte by byte: ``python -m tests.redteam.walk --seed 1``.

A service of its own counts the wears of six members and publishes an edition. Then one member takes a counted wear
back, and the disks are swept. What each table holds is compared, what the group is shown, and where bytes are left.
"""

import argparse
import hashlib
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from tests.redteam.goal_i import Evidence, Planted, is_found_whole, plant, with_summaries
from tests.redteam.scene import FIRST_CUT_OFF, GROUP, Scene, staged
from tests.server.running import wait_until

Tables = dict[str, list]


def walk(seed: int) -> Iterator[str]:
    """Lines of a report, as a table for the documentation."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "service"
        place.mkdir()
        with staged(place) as scene:
            yield from _taken_back(scene, np.random.default_rng(seed))


def _taken_back(scene: Scene, rng: np.random.Generator) -> Iterator[str]:
    taker, everybody = _counted(scene, rng)
    with_summaries(scene, everybody)
    evidence = Evidence(scene)
    wait_until(lambda: is_found_whole(evidence.of(taker)))
    bytes_before = len(evidence.of(taker))
    before, edition = scene.ask("tables"), scene.edition(1)
    taker.member.api.call("DELETE", f"/api/v1/wears/{taker.wear}/group/", expect=204)
    after = scene.ask("tables")
    asked = taker.member.api.call("GET", f"/api/v1/wears/{taker.wear}/", expect=None).status
    yield from _compared(before, after)
    yield ""
    yield f"The owner asks for the wear: {asked}."
    yield f"The edition before, SHA-256 {hashlib.sha256(edition).hexdigest()}, {len(edition):,} bytes;"
    again = scene.edition(1)
    yield f"after, SHA-256 {hashlib.sha256(again).hexdigest()}, {len(again):,} bytes."
    scene.sweep()
    yield f"Places on the disks where readings or statistics of the wear are found: {bytes_before} before,"
    yield f"{len(evidence.of(taker))} after the sweep; of a wear that stays {len(evidence.of(everybody[1]))}."


def _counted(scene: Scene, rng: np.random.Generator) -> tuple[Planted, list[Planted]]:
    moderator = scene.found_group()
    members = [scene.join() for _ in range(6)]
    planted = []
    for member in members:
        member.join_group()
        planted.append(plant(scene, rng, member))
        member.give(planted[-1].wear)
        scene.ask("release")
        moderator.approve(planted[-1].wear)
    scene.pass_cut_off(FIRST_CUT_OFF, n_sealed=1)
    scene.publish(moderator)
    return planted[0], planted


def _compared(before: Tables, after: Tables) -> Iterator[str]:
    yield f"Group {GROUP}, six members, edition 1. Rows and bytes of every table, before and after."
    yield ""
    yield "| table | rows | bytes | |"
    yield "|---|---|---|---|"
    for table in sorted({*before, *after}):
        old, new = before.get(table, [0, 0, ""]), after.get(table, [0, 0, ""])
        rows, size = (f"{a:,}" if a == b else f"{a:,} → {b:,}" for a, b in zip(old[:2], new[:2], strict=True))
        yield f"| {table} | {rows} | {size} | {'the same bytes' if old == new else 'changed'} |"


def main() -> None:
    """Read the arguments, walk, print."""
    parser = argparse.ArgumentParser(prog="python -m tests.redteam.walk", description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    for line in walk(parser.parse_args().seed):
        sys.stdout.write(line + "\n")


if __name__ == "__main__":
    main()
