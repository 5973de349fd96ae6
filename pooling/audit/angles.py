"""Principal angles between the row space and the coordinates of a set of people: exact, one set at a time."""

import numpy as np
from numpy.typing import NDArray
from scipy import linalg, sparse

from pooling.audit.rows import Floats, Ints, System

Bools = NDArray[np.bool_]

ISOLATED = (1 - 1e-9) ** 2
_RANK_TOLERANCE = 1e-10
_MOST_ROWS_AT_ONCE = 600
_MOST_ROWS_NEARBY = 1200


def basis(matrix: sparse.csr_array) -> Floats:
    """Orthonormal columns that span the row space, by QR with pivoting on rows of unit length."""
    dense = matrix.toarray()
    dense = dense[dense.any(axis=1)]
    dense /= np.linalg.norm(dense, axis=1)[:, None]
    dense = dense[list({row.tobytes(): place for place, row in enumerate(dense)}.values())]
    q, r, _ = linalg.qr(dense.T, mode="economic", pivoting=True, check_finite=False)
    return np.ascontiguousarray(q[:, np.abs(r.diagonal()) > _RANK_TOLERANCE])


def reach(part: Floats) -> float:
    """Squared cosine of the smallest angle between the row space and the coordinates of these rows of the basis.

    It is the largest share of its squared length that a combination of the sums can have in these coordinates: at 1
    some combination is nothing else. Let the columns of Q be an orthonormal basis of the row space; then it is the
    square of the largest singular value of Q[S, :] (Bjorck & Golub, Math Comp 1973;27:579-594, from memory).
    """
    small = part @ part.T if len(part) < part.shape[1] else part.T @ part
    return float(np.linalg.eigvalsh(small)[-1]) if small.size else 0.0


def furthest_reaches(system: System, *, enough: float) -> Floats:
    """The reach of each person, or an upper bound of it that is below `enough`.

    Where rows are many, a person is first looked at with the rows that the person is in and the columns in no other
    row. To leave out columns of others only shortens what stands beside the person's own, so no share comes out too
    small. Only where that is not below `enough` more rows are taken in, first their neighbours, then all.
    """
    own = np.split(np.arange(system.person.size), system.starts()[1:])
    by_column = system.matrix.tocsc()
    if system.n_rows <= _MOST_ROWS_AT_ONCE:
        turned = _whitening(system.matrix)
        return np.array([reach(turned @ by_column[:, columns]) for columns in own])
    in_rows = np.diff(by_column.indptr)
    found = []
    for columns in own:
        rows: Ints = np.unique(by_column[:, columns].indices)
        bound = _reach_within(system, rows, columns, in_rows)
        if bound >= enough:
            near: Ints = np.unique(by_column[:, np.unique(system.matrix[rows].indices)].indices)
            rows = near if near.size <= _MOST_ROWS_NEARBY else np.arange(system.n_rows)
            bound = _reach_within(system, rows, columns, in_rows)
        found.append(bound)
    return np.array(found)


def _reach_within(system: System, rows: Ints, own: Ints, in_rows: Ints) -> float:
    """The reach of a person if there were only these rows and the columns in no other."""
    part = system.matrix[rows]
    kept = np.flatnonzero((np.bincount(part.indices, minlength=in_rows.size) == in_rows) & (in_rows > 0))
    part = part[:, kept]
    mine = np.isin(kept, own)
    sets = System(part, system.person[kept]).connected()
    return max((_share(part[members][:, columns], mine[columns]) for members, columns in sets), default=0.0)


def _share(rows: sparse.csr_array, mine: Bools) -> float:
    """Largest share of the squared length of a combination of the rows in the columns that are mine."""
    return reach(_whitening(rows) @ rows[:, np.flatnonzero(mine)]) if mine.any() else 0.0


def _whitening(rows: sparse.csr_array) -> Floats:
    """Combinations of the rows that are orthonormal, one a row; directions shorter than 1e-5 are left out.

    Cheaper than a basis where columns are many, and exact enough for shares; what is exactly isolated is for `basis`.
    """
    amount, direction = np.linalg.eigh((rows @ rows.T).toarray())
    held = amount > _RANK_TOLERANCE * amount[-1]
    return (direction[:, held] / np.sqrt(amount[held])).T
