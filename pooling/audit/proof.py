"""Proofs that hold for every set of fewer than k people at once, and what they leave to be searched.

No rule of a planner is assumed: only the rows are looked at. What cannot be proved is not refused but searched.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy import linalg, sparse

from pooling.audit.rows import Floats, Ints, System
from pooling.audit.trackers import Carriers, lightest

_ZERO = 1e-9
_SHORT = 1e-6
_MOST_ROWS = 400
_MOST_COMPARED = 40
_MOST_ROWS_OF_A_PROGRAM = 120
_MOST_TARGETS = 400
_CLEARLY = 1e-3
_REDUCED = "combination"


@dataclass(frozen=True, slots=True)
class Proof:
    """`core` holds the combinations of rows about which nothing was proved; of all others k people or more are left.

    `unproved` are rows, by number, of which a combination with few people could make use.
    """

    core: System
    n_rows_proved: int
    unproved: Ints


def prove(system: System, kinds: Sequence[str], k: int) -> Proof:
    """Find the rows that no combination carried by fewer than `k` people can use.

    Claim: let y be coefficients of the rows whose combination is not empty and is carried by fewer than `k` people.
    Then the combination is one of `core`. It holds for sets of every size below k, of all people, and for any
    coefficients.

    Why. *Own people:* if at least k people have a column in a row and in no other, whoever uses the row keeps them all;
    so y does not use it, and without it other columns become somebody's own. *Sets of rows:* the same for the columns
    that are in rows of the set only, if whatever combination of the set is not empty there is carried by k people,
    which `far_apart` decides. Then y is empty there, and of the set only the combinations that are empty there stay.
    Tried are the sets that hang together, whole and with the rows of one kind set aside.

    Why not angles alone: they answer for one set of people at a time, and there are more sets of four than can be
    tried.

    Parameters
    ----------
    system : System
    kinds : sequence of str
        Of the rows; only what is tried depends on them.
    k : int

    References
    ----------
    A set of rows with k disjoint sets of people of full rank generalises spanning trees without a common edge
    (Nash-Williams, J London Math Soc 1961;36:445-450, from memory).
    """
    matrix, kind = system.matrix, np.asarray(kinds, dtype=object)
    unproved = left = _used_by_few(system, k)
    while left.size:
        matrix, kind = matrix[left], kind[left]
        reduced = _without_proved_sets(System(matrix, system.person), kind, k)
        if reduced is None:
            core = System(matrix, system.person).without_empty_columns()
            return Proof(core, system.n_rows - core.n_rows, unproved)
        matrix, kind = reduced
        left = _used_by_few(System(matrix, system.person), k)
    return Proof(System(system.matrix[:0, :0], system.person[:0]), system.n_rows, left)


def _used_by_few(system: System, k: int) -> Ints:
    """Rows that are left when those with k people of their own go, one round after another."""
    left = np.arange(system.n_rows)
    while left.size:
        entries = system.matrix[left].tocoo()
        own = np.bincount(entries.col, minlength=system.person.size)[entries.col] == 1
        held = np.unique(np.column_stack([entries.row[own], system.person[entries.col[own]]]), axis=0)
        n_own = np.bincount(held[:, 0], minlength=left.size)
        if not (n_own >= k).any():
            break
        left = left[n_own < k]
    return left


def _without_proved_sets(system: System, kind: Ints, k: int) -> tuple[sparse.csr_array, Ints] | None:
    """Rows with every set that could be proved replaced by its combinations that are empty on its own columns."""
    in_rows = np.bincount(system.matrix.tocoo().col, minlength=system.person.size)
    for aside in (None, *sorted(set(kind.tolist()))):
        outside = np.flatnonzero(kind != aside)
        gone, came = [], []
        for rows, columns in System(system.matrix[outside], system.person).connected():
            chosen = outside[rows]
            part = system.matrix[chosen][:, columns].toarray() if len(chosen) <= _MOST_ROWS else None
            if part is None:
                continue
            own = np.count_nonzero(part, axis=0) == in_rows[columns]
            if far_apart(part[:, own], system.person[columns[own]], k):
                gone.append(chosen)
                came.append(_empty_on(part[:, own]) @ system.matrix[chosen])
        if gone:
            kept = np.setdiff1d(np.arange(system.n_rows), np.concatenate(gone))
            return _joined(system.matrix[kept], kind[kept], came)
    return None


def _joined(matrix: sparse.csr_array, kind: Ints, came: Sequence[Floats]) -> tuple[sparse.csr_array, Ints]:
    """Rows and further combinations, without those that are empty."""
    found = np.vstack(came)
    found[np.abs(found) < _ZERO] = 0
    found = found[found.any(axis=1)]
    whole = sparse.vstack([matrix, sparse.csr_array(found)], format="csr")
    return whole, np.concatenate([kind, np.full(len(found), _REDUCED, dtype=object)])


def _empty_on(columns: Floats) -> Floats:
    """Combinations of the rows, one a row, that are zero on all these columns."""
    # The triangle of a QR has the same null space and is small.
    triangle = linalg.qr((columns / np.linalg.norm(columns, axis=0)).T, mode="r", check_finite=False)[0]
    return linalg.null_space(triangle[: len(columns)], rcond=_ZERO).T


def far_apart(columns: Floats, person: Ints, k: int) -> bool:
    """Whether it is proved that every combination of the rows that is not empty is carried by at least `k` people.

    Parameters
    ----------
    columns : array (n_rows, n_columns)
        Each with an entry other than zero.
    person : int array (n_columns,)
        Ascending.
    k : int

    Notes
    -----
    First, directions that k people or more have by themselves, as one of their columns or as the difference of two,
    must be zero in a combination with fewer; they are taken out of all columns, which gives others the same direction,
    and so on. Nothing may be left, or what is left must pass one of two tests. Either the people can be shared out into
    k sets of full rank: a combination that is not empty is not empty on any of them. Or, for every column, the least
    sum over people of the largest amount of each, among combinations that are 1 there and at most 1 elsewhere, exceeds
    k - 1: scale any combination so that its largest amount is 1; the number of people is at least the sum of their
    largest amounts. This is a linear program for each direction, and exact where rows are differences of cells (least
    cut and greatest flow). False says that nothing was proved.
    """
    if np.unique(person).size < k:
        return False
    left, people = _without_shared_directions(columns / np.linalg.norm(columns, axis=0), person, k)
    if not people.size:
        return True
    own = np.split(left, np.flatnonzero(np.diff(people)) + 1, axis=1)
    return _shared_out(own, k) or (len(columns) <= _MOST_ROWS_OF_A_PROGRAM and _weighed(own, k))


def _without_shared_directions(columns: Floats, person: Ints, k: int) -> tuple[Floats, Ints]:
    """Columns less what lies in directions that k people have, round by round; those that vanish are left out."""
    while columns.size:
        shared = _shared_by(*_simple_directions(columns, person), k)
        if not shared.size:
            break
        columns = _beside(columns, _span(shared.T))
        length = np.linalg.norm(columns, axis=0)
        columns, person = columns[:, length > _ZERO] / length[length > _ZERO], person[length > _ZERO]
    return columns, person


def _simple_directions(columns: Floats, person: Ints) -> tuple[Floats, Ints]:
    """Columns, and differences of two of a person that are in two rows at most, one a row; and whose each is."""
    directions, people = [columns.T], [person]
    for start, end in pairwise([*np.flatnonzero(np.diff(person, prepend=-1)).tolist(), person.size]):
        own = columns[:, start : min(end, start + _MOST_COMPARED)].T
        first, second = np.triu_indices(len(own), k=1)
        between = own[first] - own[second]
        simple = between[np.isin((np.abs(between) > _ZERO).sum(axis=1), (1, 2))]
        directions.append(simple)
        people.append(np.full(len(simple), person[start]))
    return np.vstack(directions), np.concatenate(people)


def _shared_by(directions: Floats, people: Ints, k: int) -> Floats:
    """Directions, one a row, that k people or more have; those alike to 9 digits are the same."""
    directions = directions / np.linalg.norm(directions, axis=1)[:, None]
    leading = np.take_along_axis(directions, np.abs(directions).argmax(axis=1)[:, None], axis=1)
    alike: dict[bytes, set[int]] = {}
    place: dict[bytes, int] = {}
    for number, (rounded, who) in enumerate(zip(np.round(directions / leading, 9) + 0.0, people.tolist(), strict=True)):
        key = rounded.tobytes()
        alike.setdefault(key, set()).add(who)
        place.setdefault(key, number)
    return directions[[place[key] for key, who in alike.items() if len(who) >= k]]


def _shared_out(own: Sequence[Floats], k: int) -> bool:
    """Whether the people, largest rank first and each where least is reached, give k sets of full rank."""
    rank = _rank(np.hstack(own))
    spans = sorted((_span(columns) for columns in own), key=lambda span: -span.shape[1])
    reached = [np.zeros((len(own[0]), 0)) for _ in range(k)]
    for span in spans:
        open_sets = [place for place in range(k) if reached[place].shape[1] < rank]
        if not open_sets:
            break
        for place in sorted(open_sets, key=lambda place: reached[place].shape[1]):
            gained = _span(_beside(_beside(span, reached[place]), reached[place]))
            if gained.shape[1]:
                reached[place] = np.hstack([reached[place], gained])
                break
    return all(known.shape[1] == rank for known in reached)


def _beside(columns: Floats, known: Floats) -> Floats:
    return columns - known @ (known.T @ columns)


def _span(columns: Floats) -> Floats:
    """Orthonormal columns of the same span. Lengths below 1e-6 count as none: that can only lose a proof."""
    amount, direction = np.linalg.eigh(columns.T @ columns)
    held = amount > _SHORT**2
    return columns @ (direction[:, held] / np.sqrt(amount[held]))


def _rank(columns: Floats) -> int:
    """Lengths down to 1e-9 count: a direction that is overlooked could be a leak."""
    triangle = linalg.qr(columns.T, mode="r", check_finite=False)[0][: len(columns)]
    return int((linalg.svdvals(triangle, check_finite=False) > _ZERO).sum())


def _weighed(own: Sequence[Floats], k: int) -> bool:
    carriers = Carriers.of(own)
    targets = carriers.directions()
    return len(targets) <= _MOST_TARGETS and all(
        lightest(carriers, target, at_most_one=True).weight > k - 1 + _CLEARLY for target in targets
    )
