"""All versions of a cell that were ever published, each against each."""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from pooling.audit.rows import AuditRow, checked_terms
from pooling.errors import InvalidInput


@dataclass(frozen=True, slots=True)
class Version:
    """What one edition shows for one cell: a figure from the sums of these records, added up."""

    cell: str
    records: frozenset[str]


@dataclass(frozen=True, slots=True)
class Changes:
    """How many pairs of versions were looked at, and how many differ by somebody, but by fewer than k people."""

    n_pairs: int
    n_thin: int

    @property
    def passed(self) -> bool:
        return not self.n_thin

    def reasons(self) -> tuple[str, ...]:
        """Why it does not pass, in words; empty if it does."""
        noun, verb = ("pair", "differs") if self.n_thin == 1 else ("pairs", "differ")
        return (f"{self.n_thin} {noun} of versions of a cell {verb} by too few people",) * bool(self.n_thin)


def changes(versions: Sequence[Version], rows: Sequence[AuditRow], person_of: Mapping[str, str], *, k: int) -> Changes:
    """Compare every two versions of a cell, of all editions and not only of successive ones.

    Claim: if it passes, any two figures that were ever shown for a cell rest on the same people's wears or differ by
    those of at least `k` people.

    Assumptions: a cell has one value a row; of a tie, or of parts, each row is a cell of its own.

    Parameters
    ----------
    versions : sequence of Version
        Order does not matter.
    rows, person_of, k
        As for `audit`.

    Returns
    -------
    Changes

    Raises
    ------
    InvalidInput
        A version of a record that is not among the rows, or rows as in `audit`.
    """
    terms = {row.record: checked_terms(number, row) for number, row in enumerate(rows)}
    of_cell: defaultdict[str, Counter[frozenset[str]]] = defaultdict(Counter)
    for version in versions:
        if not version.records <= terms.keys():
            raise InvalidInput(f"A version of {version.cell} rests on a record that is not among the rows.")
        of_cell[version.cell][version.records] += 1
    n_thin = sum(
        n_first * n_second
        for shown in of_cell.values()
        for (first, n_first), (second, n_second) in combinations(shown.items(), 2)
        if 0 < _n_people_between(first, second, terms, person_of) < k
    )
    n_versions = [sum(shown.values()) for shown in of_cell.values()]
    return Changes(sum(n * (n - 1) // 2 for n in n_versions), n_thin)


def _n_people_between(
    first: frozenset[str],
    second: frozenset[str],
    terms: Mapping[str, Mapping[str, float]],
    person_of: Mapping[str, str],
) -> int:
    """People with an atom that does not cancel in the difference of two sums of records."""
    rest: defaultdict[str, float] = defaultdict(float)
    for records, sign in ((first - second, 1), (second - first, -1)):
        for record in records:
            for atom, value in terms[record].items():
                rest[atom] += sign * value
    return len({person_of.get(atom, atom) for atom, value in rest.items() if abs(value) > 1e-12})
