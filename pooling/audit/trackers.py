"""Search for combinations of sums that few people carry, by linear programs: trackers of least weight."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import optimize, sparse

from pooling.audit.rows import Floats, Ints

_DIGITS = 9
_NOTHING = 1e-6
_SOLVED, _NONE_EXISTS = 0, 2


@dataclass(frozen=True, slots=True)
class Carriers:
    """Columns by person, each scaled so that its largest entry is 1; people with the same columns stand together.

    `columns` is columns x rows, `group` the group of people of each column, ascending, and `members` the people of each
    group, by their place in what this was made from.
    """

    columns: sparse.csr_array
    group: Ints
    members: tuple[tuple[int, ...], ...]

    @classmethod
    def of(cls, own: Sequence[Floats]) -> "Carriers":
        """From one array (n_rows, n_columns) a person."""
        scaled = [np.unique(_scaled(columns.T), axis=0) for columns in own]
        members: dict[bytes, list[int]] = {}
        for person, columns in enumerate(scaled):
            members.setdefault(columns.tobytes(), []).append(person)
        groups = list(members.values())
        shown = [scaled[people[0]] for people in groups]
        group = np.repeat(np.arange(len(groups)), [len(found) for found in shown])
        return cls(sparse.csr_array(np.vstack(shown)), group, tuple(tuple(people) for people in groups))

    @property
    def size(self) -> Floats:
        """How many people each group is."""
        return np.array([len(people) for people in self.members], dtype=float)

    def people_in(self, groups: Ints) -> list[int]:
        """Everybody in these groups."""
        return sorted(person for group in groups.tolist() for person in self.members[group])

    def directions(self) -> Floats:
        """Each direction that a column has, once."""
        return np.unique(self.columns.toarray(), axis=0)


def _scaled(columns: Floats) -> Floats:
    """Columns, one a row, divided by their largest entry and, of the two signs, given the same one."""
    largest = columns[np.arange(len(columns)), np.abs(columns).argmax(axis=1)]
    return np.round(columns / largest[:, None], _DIGITS) + 0.0


@dataclass(frozen=True, slots=True)
class Tracker:
    """A combination: its weight and the largest amount it keeps of each group of people.

    The weight is infinite if there is no such combination, and not a number if the program was not solved.
    """

    weight: float
    amount: Floats

    def held(self) -> Ints:
        """Groups of people who are in it."""
        return np.flatnonzero(self.amount > _NOTHING * self.amount.max(initial=0.0))


def lightest(carriers: Carriers, target: Floats, *, at_most_one: bool = False, price: Floats | None = None) -> Tracker:
    """The combination of rows that is 1 at `target` and whose largest amounts, summed over people, are least.

    With `at_most_one` no column may exceed 1, so that no combination with its largest amount at the target has fewer
    people than the weight. `price` weighs groups of people in the sum, their numbers if not given.

    Parameters
    ----------
    carriers : Carriers
    target : array (n_rows,)
        One of the directions.

    References
    ----------
    Least absolute sums as a stand-in for least support: Chen, Donoho & Saunders, SIAM J Sci Comput 1998;20:33-61;
    trackers: Denning & Schloerer, ACM TODS 1980;5(1):88-102 (both from memory). Solved by HiGHS.
    """
    n_columns, n_rows = carriers.columns.shape
    n_groups = len(carriers.members)
    most = sparse.csr_array((np.ones(n_columns), (np.arange(n_columns), carriers.group)), shape=(n_columns, n_groups))
    found = optimize.linprog(  # type: ignore[call-overload]  # the stubs do not know sparse constraints
        np.concatenate([np.zeros(n_rows), carriers.size if price is None else price]),
        A_ub=sparse.block_array([[carriers.columns, -most], [-carriers.columns, -most]], format="csr"),
        b_ub=np.zeros(2 * n_columns),
        A_eq=sparse.csr_array(np.concatenate([target, np.zeros(n_groups)])[None, :]),
        b_eq=np.ones(1),
        bounds=[(None, None)] * n_rows + [(0, 1 if at_most_one else None)] * n_groups,
        method="highs",
    )
    if found.status != _SOLVED:
        return Tracker(np.inf if found.status == _NONE_EXISTS else np.nan, np.zeros(n_groups))
    return Tracker(float(found.fun), found.x[n_rows:])


def sparsest(carriers: Carriers, target: Floats, *, n_rounds: int) -> Tracker:
    """The combination with the fewest people of those found when whoever is in it least gets dearer, round by round."""
    best, price = Tracker(np.inf, np.zeros(len(carriers.members))), carriers.size
    fewest = np.inf
    for _ in range(n_rounds):
        tracker = lightest(carriers, target, price=price)
        n_people = len(carriers.people_in(tracker.held())) if np.isfinite(tracker.weight) else np.inf
        if n_people < fewest:
            best, fewest = tracker, n_people
        price = carriers.size / (tracker.amount + 0.05 * tracker.amount.max(initial=0.0) + _NOTHING)
    return best
