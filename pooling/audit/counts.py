"""Whom single sums and the differences of two speak of, and whether they say so rightly."""

import numpy as np
from scipy import sparse

from pooling.audit.concentration import P_PCT, protected_by_p_pct
from pooling.audit.rows import Component, Ints, System

_SAME = 1e-12
_AT_ONCE = 4_000


def n_people_in(matrix: sparse.csr_array, person: Ints) -> Ints:
    """How many people each row speaks of."""
    entries = matrix.tocoo()
    held = np.unique(np.column_stack([entries.row, person[entries.col]]), axis=0)
    return np.bincount(held[:, 0], minlength=matrix.shape[0])


def thin_rows(system: System, k: int) -> list[int]:
    """Rows of fewer than k people. A row of nobody is one of them: what names nobody cannot be audited."""
    return np.flatnonzero(n_people_in(system.matrix, system.person) < k).tolist()


def thin_differences(system: System, k: int, *, among: Ints) -> list[tuple[int, int]]:
    """Pairs of these rows that have common columns and differ by somebody, but by fewer than k people.

    People who are in one row only stay in the difference, so most pairs need no look. Entries that agree to 12 digits
    are taken for equal.
    """
    matrix = system.matrix[among]
    touching = sparse.triu(_marks(matrix) @ _marks(matrix).T, k=1, format="coo")
    present = _present(matrix, system.person)
    found: list[tuple[int, int]] = []
    for start in range(0, touching.nnz, _AT_ONCE):
        a, b = touching.row[start : start + _AT_ONCE], touching.col[start : start + _AT_ONCE]
        n_in_one_only = abs(present[a] - present[b]).sum(axis=1)
        a, b = a[n_in_one_only < k], b[n_in_one_only < k]
        n_left = n_people_in(_difference(matrix[a], matrix[b]), system.person)
        thin = (n_left > 0) & (n_left < k)
        found += zip(among[a[thin]].tolist(), among[b[thin]].tolist(), strict=True)
    return found


def _marks(matrix: sparse.csr_array) -> sparse.csr_array:
    """The matrix with 1 for every entry."""
    return sparse.csr_array((np.ones(matrix.nnz), matrix.indices, matrix.indptr), shape=matrix.shape)


def _present(matrix: sparse.csr_array, person: Ints) -> sparse.csr_array:
    """Rows x people: 1 for everybody in a row."""
    entries = matrix.tocoo()
    shape = (matrix.shape[0], int(person.max(initial=0)) + 1)
    return _marks(sparse.coo_array((np.ones(entries.nnz), (entries.row, person[entries.col])), shape=shape).tocsr())


def _difference(first: sparse.csr_array, second: sparse.csr_array) -> sparse.csr_array:
    rest = (first - second).tocoo()
    larger = abs(first).maximum(abs(second)).tocsr()
    real = np.abs(rest.data) > _SAME * larger[rest.row, rest.col]
    return sparse.coo_array((rest.data[real], (rest.row[real], rest.col[real])), shape=rest.shape).tocsr()


def miscounted(component: Component) -> list[int]:
    """Rows that say another number of people than stand behind their atoms, or than were ever given a place.

    Somebody who has left is behind an atom or several that no longer name anybody: one person at least, and no more
    than there are such atoms.
    """
    wrong = []
    for number, (row, terms) in enumerate(zip(component.rows, component.terms, strict=True)):
        said = {count for count in (row.n_people, row.n_seated) if count is not None}
        if not said:
            continue
        linked = {component.person_of[atom] for atom in terms if atom in component.person_of}
        n_unlinked = sum(atom not in component.person_of for atom in terms)
        possible = range(len(linked) + (n_unlinked > 0), len(linked) + n_unlinked + 1)
        if len(said) > 1 or not said <= set(possible):
            wrong.append(number)
    return wrong


def n_concentrated(component: Component) -> int:
    """Rows of positive coefficients and three people or more in which two of them are nearly all.

    By weight alone: the rule is made for contributions that are never negative, and weights are that.
    """
    positive = [min(terms.values(), default=0.0) > 0 for terms in component.terms]
    weights = component.weights
    rows = (weights.data[first:end] for first, end in zip(weights.indptr, weights.indptr[1:], strict=False))
    return sum(
        own and len(held) > 2 and not protected_by_p_pct(held, p_pct=P_PCT)
        for own, held in zip(positive, rows, strict=True)
    )
