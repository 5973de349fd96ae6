"""A pool's wears on their way into sums: the ledger's plan at one cut-off after another, sealed with masking noise."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from pooling.ledger import EVERYONE, Waiting, end_bucket, plan
from pooling.sealing import SEAL_VERSION_1, Cell, Member, Place, SealedRecords, SealVersion, seal_slot
from pooling.vocabulary import SITES
from tests.calibration.pools import Pool, Wear

MODEL = "demo-a14"
K = 5
UNMASKED = SEAL_VERSION_1.unmasked(number=2, grid_bits=SEAL_VERSION_1.grid_bits)
"""Sums alone, for measuring what masking noise costs; it has no place outside these tests."""


def site_of(cell: int) -> str:
    """Site that stands for a cell number."""
    return SITES[cell]


@dataclass
class Packing:
    """Wears that wait, people's open places, and what is sealed so far."""

    pool: Pool
    version: SealVersion
    waited: dict[int, int] = field(default_factory=dict)
    places: list[Place] = field(default_factory=list)
    sealed: list = field(default_factory=list)

    def cut_off(self, slot: int, arrived: list[int], key: bytes) -> None:
        """Plan and seal what waits."""
        self.waited |= dict.fromkeys(arrived, 0)
        planned = plan(self._waiting(), slot_key=key, k_of=lambda _scope: K)
        blocks = [
            (block.cell, [_member(self.pool.wears[int(wear)]) for wear in block.wears]) for block in planned.blocks
        ]
        found = seal_slot(
            blocks,
            ties=planned.ties,
            open_places=self.places,
            end_bucket=end_bucket(slot),
            version=self.version,
            key=key,
            k=K,
        )
        self.sealed.append(found.records)
        self.places += found.places
        self.waited = {int(wear): self.waited[int(wear)] + 1 for wear in planned.still_waiting}

    def _waiting(self) -> list[Waiting]:
        open_of: dict[str, list[Place]] = {}
        for place in self.places:
            open_of.setdefault(place.person, []).append(place)
        found = []
        for index, waited in self.waited.items():
            wear = self.pool.wears[index]
            person, site = _person(wear), site_of(wear.cell)
            n_open = sum(_could_hold(place.cell, site) for place in open_of.get(person, ()))
            found.append(
                Waiting(
                    wear=str(index),
                    person=person,
                    wearer=person,
                    group=EVERYONE,
                    feeds_everyone=True,
                    site=site,
                    sensor_model=MODEL,
                    waited=waited,
                    aged=True,
                    places_open=n_open,
                )
            )
        return found


def _could_hold(cell: Cell, site: str) -> bool:
    return cell.place in (site, site.partition(".")[0], "other")


def _person(wear: Wear) -> str:
    return f"p{wear.person:04d}"


def _member(wear: Wear) -> Member:
    (member,) = Pool.members(None, [wear])
    return member


def pack(
    pool: Pool, rng: np.random.Generator, *, cut_offs: int, version: SealVersion = SEAL_VERSION_1
) -> SealedRecords:
    """Seal a pool over cut-offs; a person's wears come one after another, each at a cut-off drawn by lot.

    What still waits after the last cut-off is in no sum, as in an edition.
    """
    packing = Packing(pool, version)
    at = _arrivals(pool, rng, cut_offs)
    for number in range(cut_offs):
        packing.cut_off(number + 1, at.get(number, []), rng.bytes(32))
    return SealedRecords.of(record for records in packing.sealed for record in records.records)


def _arrivals(pool: Pool, rng: np.random.Generator, cut_offs: int) -> Mapping[int, list[int]]:
    """Positions of wears by cut-off."""
    own: dict[int, list[int]] = {}
    for index, wear in enumerate(pool.wears):
        own.setdefault(wear.person, []).append(index)
    at: dict[int, list[int]] = {}
    for indices in own.values():
        for index, number in zip(indices, np.sort(rng.integers(cut_offs, size=len(indices))), strict=True):
            at.setdefault(int(number), []).append(index)
    return at
