"""What the auditor reads: which atoms every sum adds up, and which sums hang together by common atoms.

An atom is one person's contribution to one value; two rows hold the same atom if and only if they add the same number.
"""

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.csgraph import connected_components

from pooling.errors import InvalidInput

Floats = NDArray[np.float64]
Ints = NDArray[np.integer]

AUDIT_VERSION = 2


@dataclass(frozen=True, slots=True)
class AuditRow:
    """One sum: the record that holds it, its kind, its atoms and, unless all are 1, their coefficients.

    `k` is the fewest people it was made for, if not that of the whole audit. `n_people` is the number of people that
    the record itself says it counts, `n_seated` the number of accounts that were ever given a place in it.
    """

    record: str
    kind: str
    atoms: tuple[str, ...]
    coefficients: tuple[float, ...] | None = None
    k: int | None = None
    n_people: int | None = None
    n_seated: int | None = None

    def terms(self) -> dict[str, float]:
        """Coefficient of each atom that counts."""
        values = self.coefficients or (1.0,) * len(self.atoms)
        return {atom: float(value) for atom, value in zip(self.atoms, values, strict=True) if value}


def checked_terms(number: int, row: AuditRow) -> dict[str, float]:
    """The terms of a row that can be audited.

    Raises
    ------
    InvalidInput
        An atom twice, coefficients that are not finite or do not match the atoms, or k below 2.
    """
    if len(set(row.atoms)) < len(row.atoms):
        raise InvalidInput(f"row {number}: an atom stands in it twice.")
    if row.coefficients is not None and len(row.coefficients) != len(row.atoms):
        raise InvalidInput(f"row {number}: {len(row.atoms)} atoms, but {len(row.coefficients)} coefficients.")
    if row.k is not None and row.k < 2:
        raise InvalidInput(f"row {number}: k is {row.k}; a sum must speak of at least 2 people.")
    terms = row.terms()
    if not np.isfinite(list(terms.values())).all():
        raise InvalidInput(f"row {number}: a coefficient is not finite.")
    return terms


@dataclass(frozen=True, slots=True)
class System:
    """Rows x columns. `person` has the person of each column, by number, ascending: one person's stand together."""

    matrix: sparse.csr_array
    person: Ints

    @property
    def n_rows(self) -> int:
        return int(self.matrix.shape[0])

    @property
    def n_people(self) -> int:
        return int(np.unique(self.person).size)

    def with_unit_rows(self) -> "System":
        """The same combinations, each row divided by its length: a sum in other units gives away the same."""
        length = np.sqrt((self.matrix**2).sum(axis=1))
        return System((self.matrix / np.where(length, length, 1)[:, None]).tocsr(), self.person)

    def starts(self) -> Ints:
        """First column of each person."""
        return np.flatnonzero(np.diff(self.person, prepend=-1))

    def people_in(self, values: Floats) -> Ints:
        """How many people have a value other than zero; one count for each row of values."""
        if not self.person.size:
            return np.zeros(len(values), dtype=np.int64)
        return np.logical_or.reduceat(values != 0, self.starts(), axis=1).sum(axis=1)

    def without_empty_columns(self) -> "System":
        held = np.flatnonzero(np.diff(self.matrix.tocsc().indptr))
        return System(self.matrix[:, held], self.person[held])

    def connected(self) -> Iterator[tuple[Ints, Ints]]:
        """Rows and columns that hang together, one set after another; columns in no row are left out."""
        entries = self.matrix.tocoo()
        yield from _connected(entries.row, entries.col, *self.matrix.shape)


@dataclass(frozen=True)
class Component:
    """Rows that hang together by common atoms, and who is behind each. `k` is the least any of them may speak of."""

    rows: tuple[AuditRow, ...]
    terms: tuple[dict[str, float], ...]
    person_of: Mapping[str, str]
    k: int

    @cached_property
    def atoms(self) -> list[str]:
        return sorted({atom for held in self.terms for atom in held})

    @cached_property
    def people(self) -> dict[str, int]:
        """A number for everybody behind an atom, in an order that pseudonyms do not change."""
        numbers: dict[str, int] = {}
        for atom in self.atoms:
            numbers.setdefault(self.person_of.get(atom, atom), len(numbers))
        return numbers

    def number_of(self, atom: str) -> int:
        return self.people[self.person_of.get(atom, atom)]

    @cached_property
    def digest(self) -> str:
        """SHA-256 of all that the tests read: the same rows and the same people, whatever they are called, give it."""
        found = hashlib.sha256(f"audit {AUDIT_VERSION} k {self.k}\n".encode())
        for atom in self.atoms:
            found.update(f"{atom}\t{self.number_of(atom)}\t{atom in self.person_of}\n".encode())
        found.update("\n".join(sorted(map(_written, self.rows, self.terms))).encode())
        return found.hexdigest()

    @cached_property
    def system(self) -> System:
        """The rows over merged columns.

        A person's atoms in the same rows in the same proportion become one column with the root of their summed
        squares: no support and no angle changes.
        """
        patterns: dict[str, list[tuple[int, float]]] = {}
        for number, held in enumerate(self.terms):
            for atom, value in held.items():
                patterns.setdefault(atom, []).append((number, value))
        weights: dict[tuple[int, tuple[int, ...], tuple[float, ...]], float] = {}
        for atom, pattern in patterns.items():
            scale = pattern[0][1]
            key = (self.number_of(atom), tuple(n for n, _ in pattern), tuple(v / scale for _, v in pattern))
            weights[key] = weights.get(key, 0.0) + scale * scale
        columns = sorted(weights)
        sizes = [len(rows) for _, rows, _ in columns]
        values = np.array([v for _, _, shares in columns for v in shares], dtype=float)
        values *= np.repeat(np.sqrt([weights[key] for key in columns]), sizes)
        rows = np.array([number for _, held, _ in columns for number in held], dtype=np.int64)
        shape = (len(self.terms), len(columns))
        matrix = sparse.csc_array((values, rows, np.concatenate([[0], np.cumsum(sizes, dtype=np.int64)])), shape=shape)
        return System(matrix.tocsr(), np.array([person for person, _, _ in columns], dtype=np.int64))

    @cached_property
    def weights(self) -> sparse.csr_array:
        """Rows x people: what each person's atoms add up to, all taken positive."""
        row = np.repeat(np.arange(len(self.terms)), [len(held) for held in self.terms])
        person = np.array([self.number_of(atom) for held in self.terms for atom in held], dtype=np.int64)
        amount = np.abs([value for held in self.terms for value in held.values()])
        return sparse.coo_array((amount, (row, person)), shape=(len(self.terms), max(len(self.people), 1))).tocsr()


def _written(row: AuditRow, terms: Mapping[str, float]) -> str:
    held = " ".join(f"{atom}:{terms[atom].hex()}" for atom in sorted(terms))
    return f"{row.record}\t{row.kind}\t{row.k}\t{row.n_people}\t{row.n_seated}\t{held}"


def components(
    rows: Sequence[AuditRow], terms: Sequence[dict[str, float]], person_of: Mapping[str, str], *, k: int
) -> Iterator[Component]:
    """Split rows where they share no atom; the rows of a component stand in an order of their own."""
    numbers: dict[str, int] = {}
    held = [[numbers.setdefault(atom, len(numbers)) for atom in terms_of_row] for terms_of_row in terms]
    row = np.repeat(np.arange(len(rows)), [len(places) for places in held])
    column = np.array([place for places in held for place in places], dtype=np.int64)
    for members, _ in _connected(row, column, len(rows), len(numbers)):
        chosen = sorted(members.tolist(), key=lambda place: _written(rows[place], terms[place]))
        yield Component(tuple(rows[place] for place in chosen), tuple(terms[place] for place in chosen), person_of, k)


def _connected(row: NDArray, column: NDArray, n_rows: int, n_columns: int) -> Iterator[tuple[Ints, Ints]]:
    size = n_rows + n_columns
    graph = sparse.coo_array((np.ones(len(row), dtype=np.int8), (row, column + n_rows)), shape=(size, size))
    n_parts, label = connected_components(graph, directed=False)
    order = np.argsort(label, kind="stable")
    edges = np.searchsorted(label[order], np.arange(n_parts + 1))
    for first, end in pairwise(edges.tolist()):
        members = order[first:end]
        if members[0] < n_rows:
            cut = int(np.searchsorted(members, n_rows))
            yield members[:cut], members[cut:] - n_rows
