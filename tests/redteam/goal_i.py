"""Goal I: what somebody takes back, erases or leaves behind is out of reach at once and off the disks after a sweep.

A service is started as its operator starts it. Members upload wears whose readings nobody else has; the searcher must
first find every one of them in what the service wrote. Then one takes back a counted wear, one erases a wear, one
leaves the group and one closes the account; and an older copy of the database is put back.
"""

import os
import sqlite3
import tempfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from tests.redteam.registry import Effort, Goal, Line
from tests.redteam.scene import FIRST_CUT_OFF, GROUP, PASSWORD, Member, Scene, staged
from tests.server.canaries import Canary, Form, broker_bytes, found_in, found_in_files, reading
from tests.server.records import pairs
from tests.server.running import LOG, wait_until

N_PAIRS = 8  # as few as a wear that counts may have


@dataclass
class Planted:
    """A member, the wear, and what to look for when the wear has to be gone."""

    member: Member
    wear: str
    canaries: tuple[Canary, ...] = field(repr=False)


class Evidence:
    """Everything that the service wrote: its folder, and database and broker where they are elsewhere."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene

    def of(self, planted: Planted) -> list[str]:
        found = found_in_files(self.scene.service.place, planted.canaries)
        if "DATABASE_URL" in self.scene.service.environment:
            found += found_in(bytes.fromhex(self.scene.ask("files")), planted.canaries)
        if "REDIS_URL" in os.environ:
            found += found_in(broker_bytes(os.environ["REDIS_URL"]), planted.canaries)
        return found


def plant(scene: Scene, rng: np.random.Generator, member: Member) -> Planted:
    """Upload a wear of readings that nobody else has."""
    hundredths = 100 * rng.permutation(np.arange(70, 300))[:N_PAIRS] + rng.integers(11, 99, N_PAIRS)
    values = [float(value) / 100 for value in hundredths]
    rows = [{**pair, "reference": value} for pair, value in zip(pairs(N_PAIRS), values, strict=True)]
    return Planted(member, member.upload(pairs=rows), tuple(map(reading, values)))


def with_summaries(scene: Scene, everybody: Sequence[Planted]) -> None:
    """Look for pieces of the packed statistics too, those that no other wear has."""
    answer = scene.ask("summaries", *(planted.wear for planted in everybody))
    packed = {wear: bytes.fromhex(digits) for wear, digits in answer.items()}
    for planted in everybody:
        own = packed[planted.wear]
        others = b"".join(content for wear, content in packed.items() if wear != planted.wear)
        pieces = [own[start : start + 16] for start in range(0, len(own) - 16, 8)]
        forms = [Form("statistics", piece, strong=True) for piece in pieces if piece not in others]
        assert len(forms) > 20, "the statistics of two wears are too much alike to be told apart"
        planted.canaries += (Canary("summary", tuple(forms)),)


def is_found_whole(findings: list[str]) -> bool:
    """Whether packed readings and packed statistics were both found: nobody believes a searcher that sees less."""
    return all(any(what in finding for finding in findings) for what in ("hundredths I little", "statistics"))


def run(effort: Effort) -> Iterator[Line]:
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "service"
        place.mkdir()
        with staged(place) as scene:
            yield from _attacks(scene, effort, Path(folder) / "copy")


def _attacks(scene: Scene, effort: Effort, copy: Path) -> Iterator[Line]:
    rng = np.random.default_rng(effort.seed)
    moderator = scene.found_group()
    members = [scene.join() for _ in range(effort.pick(24, 7))]
    for member in members:
        member.join_group()
    counted = [_given(scene, rng, member, moderator) for member in members]
    scene.pass_cut_off(FIRST_CUT_OFF, n_sealed=1)
    scene.publish(moderator)
    taker, closer, leaver, stayer = counted[:4]
    waiting = _given(scene, rng, leaver.member, moderator)
    closers_other = _given(scene, rng, closer.member, moderator)
    erased = plant(scene, rng, taker.member)
    gone, everybody = [taker, closer, closers_other, erased], [*counted, waiting, closers_other, erased]
    with_summaries(scene, everybody)
    evidence = Evidence(scene)
    for planted in (*gone, waiting, stayer):
        # Looked for again where the sweep moved bytes from log to file while both were being read.
        wait_until(lambda planted=planted: is_found_whole(evidence.of(planted)))

    scene.copy_database(copy)
    before, edition = scene.ask("pool"), scene.edition(1)
    taker.member.api.call("DELETE", f"/api/v1/wears/{taker.wear}/group/", expect=204)
    taker.member.api.call("DELETE", f"/api/v1/wears/{erased.wear}/", expect=204)
    leaver.member.api.call("DELETE", f"/api/v1/groups/{GROUP}/membership/", expect=204)
    closer.member.api.call("DELETE", "/api/v1/me/", expect=204)

    in_reach = _in_reach(gone, waiting, moderator)
    yield Line("asked for at once, by owner, moderator and old token", "-", f"{in_reach} answers", in_reach == 0)
    same = (scene.ask("pool"), scene.edition(1)) == (before, edition)
    yield Line("sums, places, marks and editions after it", "-", "same bytes" if same else "changed", same)

    naive = _deleted_naively(scene, copy, gone)
    left = _after_sweep(scene, evidence, gone)
    yield Line("bytes on disks after the sweep", f"{naive} of {len(gone)} wears", f"{left} of {len(gone)}", left == 0)
    assert evidence.of(stayer), "what nobody erased must still be found"
    assert "Traceback" not in (scene.service.place / LOG).read_text()

    yield _put_back(scene, evidence, copy, gone, waiting, moderator)


def _given(scene: Scene, rng: np.random.Generator, member: Member, moderator: Member) -> Planted:
    planted = plant(scene, rng, member)
    member.give(planted.wear)
    scene.ask("release")
    moderator.approve(planted.wear)
    return planted


def _in_reach(gone: Iterable[Planted], waiting: Planted, moderator: Member) -> int:
    """How many calls still get something of what is gone, or of what was taken out of the group."""
    asked: list[Callable[[], Any]] = []
    for planted in gone:
        for address in (f"/api/v1/wears/{planted.wear}/", f"/api/v1/wears/{planted.wear}/report/"):
            asked.append(lambda member=planted.member, address=address: member.api.get(address, expect=None))
    for planted in (*gone, waiting):
        address = f"/api/v1/groups/{GROUP}/curation/{planted.wear}/"
        asked.append(lambda address=address: moderator.api.get(address, expect=None))
    return sum(call().status not in {401, 404} for call in asked)


def _deleted_naively(scene: Scene, copy: Path, gone: Iterable[Planted]) -> int:
    """Of how many wears bytes are left where rows are deleted and nothing else is done."""
    if "DATABASE_URL" in scene.service.environment:
        content = bytes.fromhex(scene.ask("deleted_naively"))
    else:
        naive = copy.with_name("naive")
        naive.write_bytes(copy.read_bytes())
        with closing(sqlite3.connect(naive, isolation_level=None)) as own:
            own.execute("PRAGMA secure_delete = OFF")
            for table, column in (("wearpairs", "wear_id"), ("wearsummary", "wear_id"), ("wear", "id")):
                names = [(planted.wear.replace("-", ""),) for planted in gone]
                own.executemany(f"DELETE FROM wears_{table} WHERE {column} = ?", names)
        content = naive.read_bytes()
    return sum(bool(found_in(content, planted.canaries)) for planted in gone)


def _after_sweep(scene: Scene, evidence: Evidence, gone: Iterable[Planted]) -> int:
    scene.sweep()
    return sum(bool(evidence.of(planted)) for planted in gone)


def _put_back(
    scene: Scene, evidence: Evidence, copy: Path, gone: list[Planted], waiting: Planted, moderator: Member
) -> Line:
    """The copy knows all that is gone; the service starts on it, and erases it again before anybody can ask."""
    scene.service.stop()
    scene.put_copy_back(copy)
    naive = sum(bool(evidence.of(planted)) for planted in gone)
    scene.service.start()
    wait_until(scene.service.answers)
    again = Member(moderator.sign_in_name, scene.visitor.signed_in(moderator.sign_in_name, PASSWORD))
    in_reach = _in_reach(gone, waiting, again)
    left = _after_sweep(scene, evidence, gone)
    return Line(
        "an older copy of the database put back",
        f"{naive} of {len(gone)} wears back",
        f"{in_reach} answers, bytes of {left}",
        in_reach == left == 0,
    )


GOAL = Goal("I", "What is taken back is out of reach at once, off the disks after a sweep, and stays so.", run)
