"""The independent auditor: can sums that were ever sealed be combined so that too few people stand behind the result?

It shares no code with what plans, seals or publishes. It reads no values, only which atoms every sum adds up: an atom
is one person's contribution to one value, and two rows hold the same atom if and only if they add the same number.
Every published figure is computed from such sums, so what no combination of rows isolates, no figure can.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import linalg, sparse
from scipy.sparse.csgraph import connected_components

from pooling.errors import InvalidInput

Floats = NDArray[np.float64]
Ints = NDArray[np.integer]

AUDIT_VERSION = 1
_REACHED = (1 - 1e-9) ** 2
_RANK_TOLERANCE = 1e-10


@dataclass(frozen=True, slots=True)
class AuditRow:
    """One sum: the record that holds it, its kind, its atoms and, unless all are 1, their coefficients."""

    record: str
    kind: str
    atoms: tuple[str, ...]
    coefficients: tuple[float, ...] | None = None

    def terms(self) -> dict[str, float]:
        """Coefficient of each atom that counts."""
        values = self.coefficients or (1.0,) * len(self.atoms)
        return {atom: float(value) for atom, value in zip(self.atoms, values, strict=True) if value}


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the auditor found. A reason names kinds of sums and numbers of them, never a person or a record.

    `n_people_tested` are all people behind the rows; `n_pairs_tested` the pairs whose own angle was computed, the
    others being ruled out by a bound; `n_components` the sets of rows that hang together by shared atoms.
    """

    passed: bool
    reasons: tuple[str, ...]
    n_rows: int
    n_atoms: int
    n_people_tested: int
    n_pairs_tested: int
    n_components: int


def audit(rows: Sequence[AuditRow], person_of: Mapping[str, str], *, k: int) -> Verdict:
    """Refuse rows of which one, the difference of two, or any combination speaks of too few people.

    Claim: if the verdict passes, every row speaks of at least `k` people, two rows differ by nobody or by at least `k`
    people, and no linear combination of any number of rows is carried by one person alone, nor (for `k` above 2) by
    two, which covers an insider who takes out the own part. For sets of one and two people the test is exact and
    complete; it knows no list of attacks.

    Assumptions: rows are everything ever sealed in all groups, ended records included, with the candidate. Somebody
    whose link to the atoms is gone counts once for each atom.

    Parameters
    ----------
    rows : sequence of AuditRow
        Order does not matter.
    person_of : mapping from atom to person
        An atom that is not in it is a person of its own.
    k : int, at least 2
        The fewest people a sum may speak of.

    Returns
    -------
    Verdict

    Raises
    ------
    InvalidInput
        k below 2, an atom twice in one row, or coefficients that are not finite or do not match the atoms.

    Notes
    -----
    Let the columns of Q be an orthonormal basis of the row space. A combination of rows that is zero outside the atoms
    S exists exactly if the row space and the coordinate space of S share a direction, that is if their smallest
    principal angle is zero, that is if the largest singular value of Q[S, :] is 1 (Bjorck & Golub, Math Comp
    1973;27:579-594; trackers: Denning & Schloerer, ACM TODS 1980;5(1):88-102; both from memory). Atoms of one person in
    the same rows with the same coefficients are merged: support does not change. Rows without a common atom cannot
    help one another, so each connected set is tested on its own; a set of one row has no other combination. The
    squared cosine of two people is at most the sum of theirs, which rules out most pairs unseen.

    Examples
    --------
    >>> block = AuditRow("first", "block", ("a", "b", "c", "d", "e"))
    >>> audit([block], {}, k=5).passed
    True
    >>> audit([block, AuditRow("second", "block", ("a", "b", "c", "d", "e", "f"))], {}, k=5).reasons
    ('1 pair of sums (block, block) differs by fewer than 5 people', 'sums can be combined so that one person is left')
    """
    if k < 2:
        raise InvalidInput(f"k is {k}; a sum must speak of at least 2 people.")
    terms = [_terms(number, row) for number, row in enumerate(rows)]
    components = _components(terms, person_of)
    thin_rows: Counter[str] = Counter()
    thin_pairs: Counter[str] = Counter()
    alone = together = False
    n_pairs = 0
    for component in components:
        kinds = [rows[number].kind for number in component.rows]
        thin_rows.update(kinds[place] for place in _thin_rows(component, k))
        thin_pairs.update(", ".join(sorted((kinds[a], kinds[b]))) for a, b in _thin_differences(component, k))
        isolated = _isolated(component, pairs=k > 2)
        alone, together = alone or isolated.alone, together or isolated.together
        n_pairs += isolated.n_pairs
    reasons = [
        _counted(n, "sum", f"({kind})", "speaks", "speak", "of") + f" {k} people" for kind, n in thin_rows.items()
    ]
    reasons += [
        _counted(n, "pair", f"of sums ({kind})", "differs", "differ", "by") + f" {k} people"
        for kind, n in thin_pairs.items()
    ]
    reasons += ["sums can be combined so that one person is left"] * alone
    reasons += ["sums can be combined so that two people are left"] * together
    people = {person for component in components for person in component.people}
    return Verdict(
        passed=not reasons,
        reasons=tuple(sorted(reasons)),
        n_rows=len(rows),
        n_atoms=len({atom for held in terms for atom in held}),
        n_people_tested=len(people),
        n_pairs_tested=n_pairs,
        n_components=len(components),
    )


def _counted(n: int, noun: str, which: str, one: str, many: str, link: str) -> str:
    return f"{n} {noun if n == 1 else noun + 's'} {which} {one if n == 1 else many} {link} fewer than"


def _terms(number: int, row: AuditRow) -> dict[str, float]:
    if len(set(row.atoms)) < len(row.atoms):
        raise InvalidInput(f"row {number}: an atom stands in it twice.")
    if row.coefficients is not None and len(row.coefficients) != len(row.atoms):
        raise InvalidInput(f"row {number}: {len(row.atoms)} atoms, but {len(row.coefficients)} coefficients.")
    terms = row.terms()
    if not np.isfinite(list(terms.values())).all():
        raise InvalidInput(f"row {number}: a coefficient is not finite.")
    return terms


@dataclass(frozen=True, slots=True)
class _Component:
    """Rows that hang together: `matrix` is rows x merged atoms, a person's columns side by side from `start` on."""

    rows: Ints
    matrix: sparse.csr_array
    people: tuple[str, ...]
    start: Ints

    def people_in(self, values: Floats) -> Ints:
        """How many people have a value other than zero; one count for each row of values."""
        if not self.people:
            return np.zeros(len(values), dtype=int)
        return np.logical_or.reduceat(values != 0, self.start, axis=1).sum(axis=1)


def _components(terms: Sequence[Mapping[str, float]], person_of: Mapping[str, str]) -> list[_Component]:
    """Split the rows where they share no atom, and merge atoms that always move together."""
    patterns: dict[str, list[tuple[int, float]]] = {}
    for number, held in enumerate(terms):
        for atom, value in held.items():
            patterns.setdefault(atom, []).append((number, value))
    columns = sorted({(person_of.get(atom, atom), tuple(pattern)) for atom, pattern in patterns.items()})
    entries = [(number, column, value) for column, key in enumerate(columns) for number, value in key[1]]
    table = np.array(entries, dtype=float).reshape(-1, 3)
    row, column, amount = table[:, 0].astype(int), table[:, 1].astype(int), table[:, 2]
    n_rows, size = len(terms), len(terms) + len(columns)
    whole = sparse.coo_array((amount, (row, column)), shape=(n_rows, len(columns))).tocsr()
    graph = sparse.coo_array((amount, (row, column + n_rows)), shape=(size, size))
    _, label = connected_components(graph, directed=False)
    by_row, by_column = _grouped(label[:n_rows]), _grouped(label[n_rows:])
    found = []
    for part, rows in by_row.items():
        own = by_column.get(part, np.zeros(0, dtype=int))
        people, start = np.unique(np.array([columns[place][0] for place in own], dtype=str), return_index=True)
        found.append(_Component(rows, whole[rows][:, own], tuple(people.tolist()), start))
    return found


def _grouped(labels: Ints) -> dict[int, Ints]:
    """Places of each label, ascending."""
    order = np.argsort(labels, kind="stable")
    keys, starts = np.unique(labels[order], return_index=True)
    return dict(zip(keys.tolist(), np.split(order, starts[1:]), strict=False))


def _thin_rows(component: _Component, k: int) -> list[int]:
    """Rows of fewer than k people. A row of nobody is one of them: what names nobody cannot be audited."""
    return np.flatnonzero(component.people_in(component.matrix.toarray()) < k).tolist()


def _thin_differences(component: _Component, k: int) -> Iterator[tuple[int, int]]:
    """Pairs of rows with common atoms that differ by somebody, but by fewer than k people."""
    matrix = component.matrix.toarray()
    touching = sparse.triu(abs(component.matrix) @ abs(component.matrix).T, k=1, format="csr")
    for first in range(len(matrix) - 1):
        seconds = touching.indices[touching.indptr[first] : touching.indptr[first + 1]]
        n_people = component.people_in(matrix[seconds] - matrix[first])
        for second in seconds[(n_people > 0) & (n_people < k)]:
            yield first, int(second)


@dataclass(frozen=True, slots=True)
class _Isolated:
    alone: bool
    together: bool
    n_pairs: int


def _isolated(component: _Component, *, pairs: bool) -> _Isolated:
    """Whether a combination of the rows is carried by one person, or by two of whom neither is alone."""
    if component.matrix.shape[0] < 2:
        # A single row has no combination but itself, and that has been counted.
        return _Isolated(False, False, 0)
    own = np.split(_basis(component.matrix), component.start[1:])
    reach = np.array([_reach(part) for part in own])
    alone = bool((reach >= _REACHED).any())
    # The furthest reaching first: then the partners worth a look stand next to one another.
    order = [int(person) for person in np.argsort(-reach, kind="stable") if reach[person] < _REACHED]
    together, n_pairs = _two_isolated([own[person] for person in order], reach[order]) if pairs else (False, 0)
    return _Isolated(alone, together, n_pairs)


def _basis(matrix: sparse.csr_array) -> Floats:
    """Orthonormal columns that span the row space, by QR with pivoting on rows of unit length."""
    dense = matrix.toarray()
    dense = np.unique(dense / np.linalg.norm(dense, axis=1)[:, None], axis=0)
    q, r, _ = linalg.qr(dense.T, mode="economic", pivoting=True, check_finite=False)
    return np.ascontiguousarray(q[:, np.abs(r.diagonal()) > _RANK_TOLERANCE])


def _reach(part: Floats) -> float:
    """Squared cosine of the smallest angle between the row space and the coordinates of these rows of the basis."""
    return float(np.linalg.eigvalsh(part @ part.T)[-1])


def _two_isolated(own: Sequence[Floats], reach: Floats) -> tuple[bool, int]:
    """Look for two people whose coordinates share a direction with the row space; also how many pairs were looked at.

    With a and b the squared cosines of the two and c the Frobenius norm of Q[S, :] Q[T, :]', that of both together is
    at most the larger eigenvalue of [[a, c], [c, b]], so c^2 >= (1 - a)(1 - b) is needed for 1.
    """
    n_pairs = 0
    if not own:
        return False, n_pairs
    basis = np.vstack(own)
    start = np.cumsum([0, *(len(part) for part in own)])
    partners = np.searchsorted(-reach, reach - _REACHED, side="right")
    for first, end in enumerate(partners):
        if end <= first + 1:
            break
        n_pairs += int(end) - first - 1
        crossing = ((own[first] @ basis[start[first + 1] : start[end]].T) ** 2).sum(axis=0)
        crossing = np.add.reduceat(crossing, start[first + 1 : end] - start[first + 1])
        enough = crossing >= (_REACHED - reach[first]) * (_REACHED - reach[first + 1 : end])
        for second in np.flatnonzero(enough).tolist():
            if _reach(np.vstack([own[first], own[first + 1 + second]])) >= _REACHED:
                return True, n_pairs
    return False, n_pairs
