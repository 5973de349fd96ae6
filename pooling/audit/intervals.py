"""What published numbers tell about others: intervals by linear programs, and counts that a mean gives away."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import optimize, sparse

from pooling.audit.rows import Floats, System
from pooling.errors import InvalidInput

LEAST_WIDTH_WEARS = 5
_SLACK = 1e-6
_UNBOUNDED = 3


@dataclass(frozen=True, slots=True)
class Intervals:
    """Smallest and largest value of each unknown count, whole numbers; infinite where nothing bounds it."""

    lower: Floats
    upper: Floats


@dataclass(frozen=True, slots=True)
class Pinned:
    """How many unpublished counts were bounded, and how many of them too closely; the narrowest interval of wears."""

    n_tested: int
    n_narrow: int
    n_pinned: int
    narrowest_wears: float

    @property
    def passed(self) -> bool:
        return not (self.n_narrow or self.n_pinned)

    def reasons(self) -> tuple[str, ...]:
        """Why it does not pass, in words; empty if it does."""
        narrow = f"{self.n_narrow} unpublished numbers of wears can be told to within {LEAST_WIDTH_WEARS}"
        pinned = f"{self.n_pinned} unpublished numbers of people can be told exactly, or to be none or one"
        return (narrow,) * bool(self.n_narrow) + (pinned,) * bool(self.n_pinned)


def feasible(
    matrix: ArrayLike | sparse.sparray, low: ArrayLike, high: ArrayLike, *, only: Collection[int] | None = None
) -> Intervals:
    """Bound every unknown count by all that is published about sums of them.

    Claim: counts that are not negative and keep to what is published lie in these intervals, and within each some do at
    both ends, as far as the ends need not be whole numbers at once.

    Parameters
    ----------
    matrix : array (n_published, n_unknown)
        How often each unknown count is in each published number; negative where it is taken off.
    low, high : array (n_published,)
        Ends of what a published number can stand for: both the number itself where it is exact, the ends of the band or
        of the rounding where it is not, infinite where it is open.
    only : collection of int, optional
        Which counts are asked for; the others are left at 0 and infinite.

    Returns
    -------
    Intervals

    Raises
    ------
    InvalidInput
        Shapes that do not match, or numbers that no counts can have together.

    Notes
    -----
    Two linear programs a count, by HiGHS, within each set of counts that hang together. Feasibility intervals: Handbook
    on Statistical Disclosure Control, 2nd ed., ch. 4.2.

    Examples
    --------
    Two counts of which the sum is 7, and the first is 3 to 6 by its band:

    >>> feasible([[1, 1], [1, 0]], [7, 3], [7, 6])
    Intervals(lower=array([3., 1.]), upper=array([6., 4.]))
    """
    known = sparse.csr_array(np.asarray(matrix, dtype=float) if not sparse.issparse(matrix) else matrix)
    ends = np.column_stack([np.asarray(low, dtype=float), np.asarray(high, dtype=float)])
    n_published, n_unknown = known.shape
    if len(ends) != n_published:
        raise InvalidInput(f"{n_published} published numbers, but ends of {len(ends)}.")
    lower, upper = np.zeros(n_unknown), np.full(n_unknown, np.inf)
    for rows, columns in System(known, np.arange(n_unknown)).connected():
        if columns.size:
            wanted = [place for place, column in enumerate(columns.tolist()) if only is None or column in only]
            if wanted:
                asked = columns[wanted]
                lower[asked], upper[asked] = _bounds(known[rows][:, columns], ends[rows], wanted)
        elif (ends[rows, 0] > 0).any() or (ends[rows, 1] < 0).any():
            raise InvalidInput(_CONTRADICTION)
    return Intervals(np.ceil(lower - _SLACK) + 0.0, np.floor(upper + _SLACK))


_CONTRADICTION = "No counts can have these published numbers together; look at their ends."


def _bounds(matrix: sparse.csr_array, ends: Floats, wanted: Sequence[int]) -> tuple[Floats, Floats]:
    n_unknown = matrix.shape[1]
    least, most = (
        np.array([_least(matrix, ends, sign * np.eye(1, n_unknown, place)[0]) for place in wanted])
        for sign in (1.0, -1.0)
    )
    return least, -most


def _least(matrix: sparse.csr_array, ends: Floats, amount: Floats) -> float:
    constraint = optimize.LinearConstraint(matrix, ends[:, 0], ends[:, 1])
    solution = optimize.milp(amount, constraints=constraint)
    if solution.status == _UNBOUNDED:
        return -np.inf
    if solution.fun is None:
        raise InvalidInput(_CONTRADICTION)
    return float(solution.fun)


def pinned(
    matrix: ArrayLike | sparse.sparray,
    low: ArrayLike,
    high: ArrayLike,
    *,
    wears: Sequence[int] = (),
    people: Sequence[int] = (),
    k: int = 5,
) -> Pinned:
    """Count unpublished numbers that the published ones tell too closely.

    Claim: if it passes, every number of wears asked for can be off by 5 either way of the interval's ends, and no
    number of people is known to be none or one, nor known exactly below `k`.

    Parameters
    ----------
    matrix, low, high
        As for `feasible`.
    wears, people : sequence of int
        Which unknown counts are unpublished numbers of wears, and of people.
    k : int

    Returns
    -------
    Pinned

    Raises
    ------
    InvalidInput
        As for `feasible`.
    """
    found = feasible(matrix, low, high, only={*wears, *people})
    width = (found.upper - found.lower)[list(wears)]
    least, most = found.lower[list(people)], found.upper[list(people)]
    told = (most <= 1) | ((least == most) & (most < k))
    return Pinned(
        n_tested=len(wears) + len(people),
        n_narrow=int((width < LEAST_WIDTH_WEARS).sum()),
        n_pinned=int(told.sum()),
        narrowest_wears=float(width.min(initial=np.inf)),
    )
