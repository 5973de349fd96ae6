"""What can be worked out of sums: exact linear algebra of its own, and trackers by linear programs.

A sum is what it multiplies each contribution (an atom) by; contributions have owners. Nothing here is shared with the
auditor: ranks are taken modulo a prime, not with floating numbers.
"""

from collections import Counter, defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, sparse

PRIME = 2**31 - 1
NOTHING = 1e-6

Ints = NDArray[np.int64]
Sum = Mapping[str, int | Fraction]


def total(atoms: Collection[str]) -> Sum:
    """The sum that counts each of these once."""
    return dict.fromkeys(atoms, 1)


class Told:
    """All that linear combinations of some sums tell, in reduced echelon form, one part for sums that share atoms.

    A combination is carried by a set of people alone if and only if it is one of the reduced rows whose leading
    columns are theirs, and these cancel everywhere else. Modulo a prime no true cancellation is missed; one too many is
    seen by a chance of about one in two billion.
    """

    def __init__(self, sums: Sequence[Sum], owner: Mapping[str, str]) -> None:
        self.parts = [Part(held, owner) for held in _connected(sums)]

    def isolated(self, most: int) -> list[tuple[str, ...]]:
        """Every smallest set of up to `most` people whom some combination speaks of, and of nobody else."""
        found = {frozenset(group) for part in self.parts for group in part.isolated(most)}
        least: list[frozenset[str]] = []
        for group in sorted(found, key=len):
            least += [] if any(other <= group for other in least) else [group]
        return sorted(tuple(sorted(group)) for group in least)

    def tells(self, wanted: Sum) -> bool:
        """Whether this very sum is a combination."""
        rest, found = dict(wanted), True
        for part in self.parts:
            own = {atom: rest.pop(atom) for atom in list(rest) if atom in part.column}
            found &= not own or part.tells(own)
        return found and not rest


class Part:
    """Sums that hang together. Atoms of one owner with the same multipliers everywhere are one column."""

    def __init__(self, sums: Sequence[Sum], owner: Mapping[str, str]) -> None:
        patterns: dict[str, list[tuple[int, int]]] = defaultdict(list)
        for number, held in enumerate(sums):
            for atom, value in held.items():
                patterns[atom].append((number, _modulo(value)))
        columns = sorted({(owner[atom], tuple(pattern)) for atom, pattern in patterns.items()})
        place = {column: number for number, column in enumerate(columns)}
        self.column = {atom: place[owner[atom], tuple(pattern)] for atom, pattern in patterns.items()}
        self.n_merged = Counter(self.column.values())
        self.owner = np.array([name for name, _ in columns])
        matrix = np.zeros((len(sums), len(columns)), dtype=np.int64)
        for number, (_, pattern) in enumerate(columns):
            for row, value in pattern:
                matrix[row, number] = value
        self.rows, self.leads = echelon(matrix)
        self.lead_owner = self.owner[self.leads]

    def isolated(self, most: int) -> Iterator[tuple[str, ...]]:
        leaders = set(self.lead_owner.tolist())
        people = sorted(set(self.owner.tolist()))
        known: list[frozenset[str]] = []
        for size in range(1, most + 1):
            for chosen in combinations(people, size):
                group = frozenset(chosen)
                if group & leaders and not any(found <= group for found in known) and self._isolates(group):
                    known.append(group)
                    yield chosen

    def _isolates(self, group: Collection[str]) -> bool:
        names = list(group)
        rows = self.rows[np.isin(self.lead_owner, names)][:, ~np.isin(self.owner, names)]
        while len(rows):
            alone = np.flatnonzero(np.count_nonzero(rows, axis=0) == 1)
            private = np.count_nonzero(rows[:, alone], axis=1) > 0
            if not private.any():
                return len(echelon(rows)[1]) < len(rows)
            rows = rows[~private]
        return False

    def tells(self, wanted: Sum) -> bool:
        """Atoms that are one column come with the same multiplier or not at all."""
        asked = Counter((self.column[atom], _modulo(value)) for atom, value in wanted.items())
        if any(self.n_merged[column] != n for (column, _), n in asked.items()):
            return False
        rest = np.zeros(len(self.owner), dtype=np.int64)
        for column, value in asked:
            rest[column] = value
        for row, lead in zip(self.rows, self.leads, strict=True):
            rest = (rest - int(rest[lead]) * row) % PRIME
        return not rest.any()


def _modulo(value: int | Fraction) -> int:
    exact = Fraction(value)
    return exact.numerator * pow(exact.denominator, -1, PRIME) % PRIME


def echelon(matrix: Ints) -> tuple[Ints, list[int]]:
    """Rows with a leading 1 that stands alone in its column, and these columns; modulo the prime."""
    rest = matrix % PRIME
    leads: list[int] = []
    for column in range(rest.shape[1]):
        top = len(leads)
        below = np.flatnonzero(rest[top:, column])
        if not below.size:
            continue
        pivot = top + int(below[0])
        rest[[top, pivot]] = rest[[pivot, top]]
        rest[top] = rest[top] * pow(int(rest[top, column]), -1, PRIME) % PRIME
        others = np.flatnonzero(rest[:, column])
        others = others[others != top]
        rest[others] = (rest[others] - rest[others, column][:, None] * rest[top]) % PRIME
        leads.append(column)
        if len(leads) == len(rest):
            break
    return rest[: len(leads)], leads


def _connected(sums: Sequence[Sum]) -> list[list[Sum]]:
    parent = list(range(len(sums)))

    def root(number: int) -> int:
        while parent[number] != number:
            parent[number] = parent[parent[number]]
            number = parent[number]
        return number

    seen: dict[str, int] = {}
    for number, held in enumerate(sums):
        for atom in held:
            parent[root(number)] = root(seen.setdefault(atom, number))
    parts: dict[int, list[Sum]] = defaultdict(list)
    for number, held in enumerate(sums):
        if held:
            parts[root(number)].append(held)
    return list(parts.values())


def fewest_carriers(sums: Sequence[Sum], owner: Mapping[str, str], targets: Collection[str]) -> list[int]:
    """For each target atom: how many people carry the combination in which the target counts 1 and all others least.

    Least sum of absolute multipliers as a stand-in for fewest (Chen, Donoho & Saunders, SIAM J Sci Comput
    1998;20:33-61; trackers: Denning & Schloerer, ACM TODS 1980;5(1):88-102; both from memory).
    """
    found = []
    for part in _connected(sums):
        inside = [atom for atom in targets if any(atom in held for held in part)]
        if inside:
            atoms = sorted({atom for held in part for atom in held})
            place = {atom: number for number, atom in enumerate(atoms)}
            table = sparse.lil_array((len(part), len(atoms)))
            for number, held in enumerate(part):
                for atom, value in held.items():
                    table[number, place[atom]] = float(value)
            found += [_carriers(sparse.csr_array(table), atoms, owner, place[atom]) for atom in inside]
    return found


def _carriers(table: sparse.csr_array, atoms: Sequence[str], owner: Mapping[str, str], target: int) -> int:
    """Multipliers y of the sums; what is left of each atom is z = y T, kept below its own bound t."""
    n_sums, n_atoms = table.shape
    turned = sparse.csr_array(table.T)
    eye = sparse.eye_array(n_atoms, format="csr")
    asked = sparse.hstack([turned[[target]], sparse.csr_array((1, n_atoms))], format="csr")
    answer = optimize.linprog(
        np.concatenate([np.zeros(n_sums), np.ones(n_atoms)]),
        A_ub=sparse.block_array([[turned, -eye], [-turned, -eye]], format="csr"),
        b_ub=np.zeros(2 * n_atoms),
        A_eq=asked,
        b_eq=np.ones(1),
        bounds=[(None, None)] * n_sums + [(0, None)] * n_atoms,
        method="highs",
    )
    left = np.abs(turned @ answer.x[:n_sums])
    return len({owner[atom] for atom, amount in zip(atoms, left, strict=True) if amount > NOTHING})


def intervals(parts: Ints, low: NDArray[np.float64], high: NDArray[np.float64], asked: Ints) -> NDArray[np.float64]:
    """Widths of what numbers of wears can be: rows of `asked` over unknown counts of which sums lie in bounds.

    `parts` (published sums) and `asked` are 0/1, rows over the unknown counts; counts are not negative.
    """
    table = sparse.csr_array(np.vstack([parts, -parts]).astype(float))
    limits = np.concatenate([high, -low])
    widths = []
    for row in asked.astype(float):
        ends = [
            optimize.linprog(sign * row, A_ub=table, b_ub=limits, bounds=(0, None), method="highs") for sign in (1, -1)
        ]
        widths.append(np.inf if any(end.status == 3 for end in ends) else -ends[1].fun - ends[0].fun)
    return np.array(widths)
