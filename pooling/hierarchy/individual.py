"""The individual-level mixed model: its REML criterion, gradient and optimum.

One wear is one row: a value with a known noise factor, worn by a person in a cell. Rows are nested
person > person-by-cell unit > wear, so the covariance matrix falls into one block a person, and every block is
eliminated in closed form. One evaluation costs a few passes over the wears; readings never enter.

The engine speaks of *ratios*: each variance component divided by the residual scale. The scale itself is either
profiled out (a residual variance to be estimated) or fixed at 1 (noise variances known beforehand).
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import linalg

from pooling.errors import InvalidInput, NoConvergence

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

COMPONENTS = ("person", "person_cell", "wear", "cell")
PERSON, PERSON_CELL, WEAR, CELL = range(4)


@dataclass(frozen=True, slots=True)
class Evaluation:
    """The model at one set of ratios, everything else at its best.

    `criterion` is minus twice the restricted log-likelihood; `gradient` its derivative by each ratio, of which
    `trace` is the part that no value of the data enters. `beta` and `covariance` belong to the design's columns,
    `unit_mean` and `unit_variance` to each person-by-cell unit (best linear predictions and their variances).
    """

    criterion: float
    gradient: Floats
    trace: Floats
    scale: float
    beta: Floats
    covariance: Floats
    cell_mean: Floats
    unit_mean: Floats
    unit_variance: Floats


@dataclass(frozen=True)
class NestedModel:
    """Wears sorted by person and cell, ready to be evaluated. Build it with `nested_model`."""

    value: Floats
    noise: Floats
    unit_start: Ints
    unit_cell: Ints
    unit_person: Ints
    person_start: Ints
    design: Floats
    base: Floats
    n_readings: int
    within_ss: float
    log_n_pairs: float
    scale_known: bool

    @property
    def n_wears(self) -> int:
        return self.value.size

    @property
    def n_units(self) -> int:
        return self.unit_start.size

    @property
    def n_people(self) -> int:
        return self.person_start.size

    @property
    def n_cells(self) -> int:
        return self.design.shape[0]

    @property
    def residual_df(self) -> int:
        return self.n_readings - self.design.shape[1]

    @cached_property
    def unit_of_wear(self) -> Ints:
        return np.repeat(np.arange(self.n_units), np.diff(self.unit_start, append=self.n_wears))

    def evaluate(self, ratios: ArrayLike) -> Evaluation:
        """Criterion, gradient and predictions at the given ratios, all in closed form.

        Parameters
        ----------
        ratios : array (4,), each >= 0
            Variance of person, person-by-cell, wear and (exchangeable) cell effects over the residual scale.

        Notes
        -----
        Woodbury's identity twice, once a unit and once a person, then the normal equations of the cells; see
        Searle, Casella & McCulloch, Variance Components (Wiley 1992), ch. 6, for REML and its derivatives
        (d/dt of minus twice the log-likelihood is tr(P Z Z') - y' P Z Z' P y), cited from memory.
        """
        ratios = np.asarray(ratios, dtype=float)
        blocks = self._eliminate(ratios)
        cells = self._solve_cells(blocks.information, blocks.score, ratios[CELL])
        sum_squares = max(blocks.quad - cells.explained, 0.0) + self.within_ss
        scale = 1.0 if self.scale_known else sum_squares / self.residual_df
        fit = sum_squares if self.scale_known else self.residual_df * (1 + np.log(scale))
        criterion = blocks.log_det + cells.log_det + fit + self.log_n_pairs + self.residual_df * np.log(2 * np.pi)

        unit_mean, unit_variance, person_spread = self._predict(blocks, cells, ratios)
        residual = (self.value - unit_mean[self.unit_of_wear]) * blocks.weight
        unit_residual = np.add.reduceat(residual, self.unit_start)
        person_residual = np.add.reduceat(unit_residual, self.person_start)
        cell_residual = blocks.score - blocks.information @ cells.eta
        squares = np.array([v @ v for v in (person_residual, unit_residual, residual, cell_residual)])
        lost = blocks.information @ cells.spread @ blocks.information
        trace = np.array(
            [
                (blocks.person_h * blocks.left - person_spread * blocks.left**2).sum(),
                (blocks.h - blocks.h**2 * unit_variance).sum(),
                (blocks.weight - unit_variance[self.unit_of_wear] * blocks.weight**2).sum(),
                np.trace(blocks.information) - np.trace(lost),
            ]
        )
        offset = self.design @ self.base
        return Evaluation(
            criterion=float(criterion),
            gradient=trace - squares / scale,
            trace=trace,
            scale=float(scale),
            beta=cells.beta + self.base,
            covariance=scale * cells.covariance,
            cell_mean=cells.eta + offset,
            unit_mean=unit_mean + offset[self.unit_cell],
            unit_variance=scale * unit_variance,
        )

    def _eliminate(self, ratios: Floats) -> "_Blocks":
        """Integrate out units, then people: what is left are the cells' information matrix and score."""
        weight = 1 / (ratios[WEAR] + self.noise)
        h = np.add.reduceat(weight, self.unit_start)
        m = np.add.reduceat(self.value * weight, self.unit_start)
        f = 1 / (1 + ratios[PERSON_CELL] * h)
        h_kept, m_kept = h * f, m * f
        person_h = np.add.reduceat(h_kept, self.person_start)
        person_m = np.add.reduceat(m_kept, self.person_start)
        left = 1 / (1 + ratios[PERSON] * person_h)
        k = ratios[PERSON] * left

        by_person = np.zeros((self.n_people, self.n_cells))
        by_person[self.unit_person, self.unit_cell] = h_kept
        information: Floats = np.diag(by_person.sum(axis=0)) - by_person.T @ (k[:, None] * by_person)
        return _Blocks(
            weight=weight,
            h=h,
            m=m,
            f=f,
            h_kept=h_kept,
            person_h=person_h,
            person_m=person_m,
            left=left,
            k=k,
            by_person=by_person,
            information=information,
            score=np.bincount(self.unit_cell, m_kept, self.n_cells) - by_person.T @ (k * person_m),
            log_det=-float(np.log(weight).sum() + np.log(f).sum() + np.log(left).sum()),
            quad=float(self.value**2 @ weight - ratios[PERSON_CELL] * (f @ m**2) - k @ person_m**2),
        )

    def _predict(self, blocks: "_Blocks", cells: "_Cells", ratios: Floats) -> tuple[Floats, Floats, Floats]:
        """Best linear prediction and its variance a unit, and the cells' share of that variance a person."""
        h, f, k = blocks.h, blocks.f, blocks.k
        own_eta = cells.eta[self.unit_cell]
        person_effect = k * (blocks.person_m - np.add.reduceat(blocks.h_kept * own_eta, self.person_start))
        centre = own_eta + person_effect[self.unit_person]
        mean = centre + ratios[PERSON_CELL] * f * (blocks.m - h * centre)

        crossing = (blocks.by_person @ cells.spread)[self.unit_person, self.unit_cell]
        person_spread = np.add.reduceat(blocks.h_kept * crossing, self.person_start)
        k_unit = k[self.unit_person]
        around = cells.spread.diagonal()[self.unit_cell] - 2 * k_unit * crossing
        around += k_unit**2 * person_spread[self.unit_person]
        return mean, ratios[PERSON_CELL] * f + f**2 * (k_unit + around), person_spread

    def _solve_cells(self, information: Floats, score: Floats, cell: float) -> "_Cells":
        """Normal equations of fixed columns and, scaled to unit variance, exchangeable cells."""
        columns = self.design
        if cell > 0:
            columns = np.hstack([columns, np.sqrt(cell) * np.eye(self.n_cells)])
        n_fixed = self.design.shape[1]
        normal = columns.T @ information @ columns
        normal[n_fixed:, n_fixed:] += np.eye(columns.shape[1] - n_fixed)
        try:
            factor = linalg.cho_factor(normal)
        except linalg.LinAlgError as error:
            raise NoConvergence("The fixed effects cannot be told apart at these variance ratios.") from error
        right = columns.T @ score
        solution = linalg.cho_solve(factor, right)
        inverse = linalg.cho_solve(factor, np.eye(columns.shape[1]))
        return _Cells(
            beta=solution[:n_fixed],
            covariance=inverse[:n_fixed, :n_fixed],
            eta=columns @ solution,
            spread=columns @ inverse @ columns.T,
            explained=float(right @ solution),
            log_det=2 * float(np.log(factor[0].diagonal()).sum()),
        )


@dataclass(frozen=True, slots=True)
class _Blocks:
    """Sums left after eliminating units and people: `h`, `m` weights and weighted values a unit, `f`, `left`, `k`
    the shrinkage factors of units and people."""

    weight: Floats
    h: Floats
    m: Floats
    f: Floats
    h_kept: Floats
    person_h: Floats
    person_m: Floats
    left: Floats
    k: Floats
    by_person: Floats
    information: Floats
    score: Floats
    log_det: float
    quad: float


@dataclass(frozen=True, slots=True)
class _Cells:
    """The cells solved: fixed effects, the mean of every cell (`eta`) and its covariance (`spread`)."""

    beta: Floats
    covariance: Floats
    eta: Floats
    spread: Floats
    explained: float
    log_det: float


def nested_model(
    value: ArrayLike,
    noise: ArrayLike,
    person: ArrayLike,
    cell: ArrayLike,
    *,
    n_pairs: ArrayLike | None = None,
    centred_ss: ArrayLike | None = None,
    design: ArrayLike | None = None,
) -> NestedModel:
    """Sort the wears and lay out their blocks.

    Parameters
    ----------
    value : array (n_wears,)
        One value a wear, for instance the mean log ratio of its readings.
    noise : array (n_wears,), > 0
        Noise variance of the value over the residual scale: 1/n for a mean of n readings, or the known variance.
    person, cell : arrays (n_wears,) of integers
        Labels, in any order.
    n_pairs, centred_ss : arrays (n_wears,), both or neither
        Readings of each wear and their centred sum of squares. With them the residual scale is estimated and the
        criterion is that of the raw readings; without them `noise` holds known variances.
    design : array (n_cells, n_columns), optional
        Fixed effects of the cells in ascending label order; one column a cell unless given.

    Raises
    ------
    InvalidInput
        Design of the wrong height or with columns that repeat one another.
    """
    value, noise = np.asarray(value, dtype=float), np.asarray(noise, dtype=float)
    person, cell = np.asarray(person), np.asarray(cell)
    scale_known = n_pairs is None
    readings = np.ones(value.size) if n_pairs is None else np.asarray(n_pairs, dtype=float)
    within = np.zeros(value.size) if centred_ss is None else np.asarray(centred_ss, dtype=float)
    # Ties are broken by content, so any order of the same rows gives the same bytes.
    order = np.lexsort((within, noise, value, cell, person))
    value, noise, person, within, readings = (a[order] for a in (value, noise, person, within, readings))
    cells, cell_index = np.unique(cell[order], return_inverse=True)

    new_person = np.append(True, person[1:] != person[:-1])
    new_unit = new_person | np.append(True, cell_index[1:] != cell_index[:-1])
    unit_start = np.flatnonzero(new_unit)
    matrix = np.eye(cells.size) if design is None else np.asarray(design, dtype=float)
    _check_design(matrix, cells.size)
    rows = matrix[cell_index] / np.sqrt(noise)[:, None]
    base = np.linalg.lstsq(rows, value / np.sqrt(noise), rcond=None)[0]
    return NestedModel(
        value=value - matrix[cell_index] @ base,
        noise=noise,
        unit_start=unit_start,
        unit_cell=cell_index[unit_start],
        unit_person=np.cumsum(new_person[unit_start]) - 1,
        person_start=np.flatnonzero(new_person[unit_start]),
        design=matrix,
        base=base,
        n_readings=int(readings.sum()),
        within_ss=float(within.sum()),
        log_n_pairs=float(np.log(readings).sum()),
        scale_known=scale_known,
    )


def _check_design(matrix: Floats, n_cells: int) -> None:
    if matrix.ndim != 2 or matrix.shape[0] != n_cells:
        raise InvalidInput(f"design has shape {matrix.shape}; it needs one row for each of the {n_cells} cells.")
    if np.linalg.matrix_rank(matrix) < matrix.shape[1]:
        raise InvalidInput("design has columns that repeat one another; drop the surplus ones.")
