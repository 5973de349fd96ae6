"""Histories as a careful ledger makes them: blocks of fresh places, ties that leave k people outside, and bundles cut
by
three partitions. Written for the auditor's tests and its bench; no code of the planner is used."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

import numpy as np

from pooling.audit import AuditRow

PHASES, RANGES, PROMPTS = 3, 3, 2
CROSS = tuple(product(range(PHASES), range(RANGES), range(PROMPTS)))


@dataclass(frozen=True)
class World:
    """`n_cells` cells in families of `n_family`, whose linkers wear several cells of one in the same edition."""

    n_people: int = 1_000
    n_cells: int = 500
    n_editions: int = 20
    n_family: int = 5
    k: int = 5
    n_linkers: int = 8
    n_bundle: int = 3
    ties: bool = True
    parts: bool = True
    chained: bool = False

    def rows(self, rng: np.random.Generator) -> tuple[list[AuditRow], dict[str, str]]:
        person_of: dict[str, str] = {}
        rows: list[AuditRow] = []
        waiting: dict[int, list[dict[str, float]]] = {}
        for edition in range(self.n_editions):
            for family in range(self.n_cells // self.n_family):
                cells = [family * self.n_family + n for n in range(self.n_family)]
                blocks, ties = self._family(rng, edition, cells, person_of)
                for cell, held in blocks.items():
                    rows.append(_row(f"b{edition}.{cell}", "block", held))
                    # Chained: neighbours in a bundle are of other families, and everything hangs together.
                    site = (family + cell) % self.n_family if self.chained else cell
                    waiting.setdefault(site, []).append(held)
                rows += ties
            for site, bundle in waiting.items():
                if self.parts and len(bundle) >= self.n_bundle:
                    rows += self._parts(f"u{edition}.{site}", bundle)
                    waiting[site] = []
        return rows, person_of

    def _family(self, rng, edition, cells, person_of) -> tuple[dict[int, dict[str, float]], list[AuditRow]]:
        n_outside = self.k + int(rng.integers(0, 3))
        everybody = rng.choice(self.n_people, self.n_linkers + n_outside * len(cells), replace=False)
        linkers, outside = everybody[: self.n_linkers], everybody[self.n_linkers :].reshape(len(cells), -1)
        blocks: dict[int, dict[str, float]] = {cell: {} for cell in cells}
        places: list[dict[int, list[str]]] = []
        for cell, people in zip(cells, outside.tolist(), strict=True):
            for person in people:
                self._seat(rng, edition, cell, person, blocks, person_of)
        for number, person in enumerate(linkers.tolist()):
            # Each to its neighbours in a ring, so that every cut is straddled by enough of them.
            worn = cells if self.n_linkers < 2 * self.k else [cells[(number + n) % len(cells)] for n in range(3)]
            places.append({cell: self._seat(rng, edition, cell, person, blocks, person_of) for cell in worn})
        return blocks, list(self._ties(rng, edition, cells, places)) if self.ties else []

    def _seat(self, rng, edition, cell, person, blocks, person_of) -> list[str]:
        """Atoms of one place: one for each cell of the cross that has pairs, all with the weight of the place."""
        cross = [CROSS[n] for n in np.flatnonzero(rng.random(len(CROSS)) < 0.5)] or [CROSS[0]]
        atoms = [f"{edition}.{cell}.{person}/{''.join(map(str, at))}" for at in cross] if self.parts else []
        atoms = atoms or [f"{edition}.{cell}.{person}"]
        weight = float(rng.uniform(0.4, 0.9))
        for atom in atoms:
            person_of[atom] = f"p{person}"
            blocks[cell][atom] = weight
        return atoms

    def _ties(self, rng, edition, cells, places) -> Iterator[AuditRow]:
        weights = [{cell: float(rng.uniform(0.3, 0.7)) for cell in held} for held in places]
        for cell in cells:
            terms: dict[str, float] = {}
            for held, q2 in zip(places, weights, strict=True):
                for other in held if cell in held else ():
                    amount = (q2[cell] if other == cell else 0.0) - q2[cell] * q2[other] / sum(q2.values())
                    terms |= dict.fromkeys(held[other], amount)
            yield _row(f"t{edition}.{cells[0]}.{cell}", "tie", terms)

    def _parts(self, name: str, bundle: list[dict[str, float]]) -> Iterator[AuditRow]:
        for partition, size in enumerate((PHASES, RANGES, PROMPTS)):
            for part in range(size):
                held = {
                    atom: weight
                    for block in bundle
                    for atom, weight in block.items()
                    if atom[-len("000") :][partition] == str(part)
                }
                yield _row(f"{name}.{partition}{part}", "part", held)


def _row(record: str, kind: str, terms: dict[str, float]) -> AuditRow:
    return AuditRow(record, kind, tuple(terms), tuple(terms.values()))
