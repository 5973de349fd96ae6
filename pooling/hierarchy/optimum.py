"""Where the restricted likelihood of the individual-level model peaks, and along which variances it is flat."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import optimize

from pooling.errors import NoConvergence
from pooling.hierarchy.individual import COMPONENTS, Evaluation, Floats, NestedModel

_LARGEST_RATIO_ROOT = 1e5
_STARTS = (0.05, 0.2, 0.7, 2.0, 10.0)
_FLAT = 1e-7


@dataclass(frozen=True, slots=True)
class Optimum:
    """The ratios that maximise the restricted likelihood; an absent component is exactly 0.0."""

    ratios: Floats
    at: Evaluation


def best_ratios(model: NestedModel, free: Sequence[bool] = (True, True, True, False)) -> Optimum:
    """Maximise the restricted likelihood over the free components; the others stay at zero.

    Claim: a stationary point on the closed non-negative range, a boundary component exactly 0.0.

    Method: bounded quasi-Newton steps on the roots of the ratios from the best of a few equal starts, then Newton
    steps for the last digits. On a root the derivative vanishes at zero, so zeros are decided on the ratios
    themselves, where the Kuhn-Tucker conditions can be read off the gradient.

    Raises
    ------
    NoConvergence
        A ratio runs off to infinity: the residual scale would be zero.
    """
    allowed = np.asarray(free, dtype=bool)
    starts = [np.where(allowed, s, 0.0) for s in _STARTS]
    roots = min(starts, key=lambda r: model.evaluate(r**2).criterion)
    active = allowed.copy()
    for _ in range(2 * len(COMPONENTS)):
        roots = _climb(model, roots, active)
        leaving = _component_at_zero(model, roots, active)
        if leaving is not None:
            active[leaving] = False
            roots[leaving] = 0.0
            continue
        at = model.evaluate(roots**2)
        slope = np.where(allowed & ~active, at.gradient, 0.0)
        returning = int(slope.argmin())
        if slope[returning] > -1e-6 * (1 + at.trace[returning]):
            return Optimum(roots**2, at)
        active[returning] = True
        roots[returning] = min(_STARTS)
    raise NoConvergence("The variance components did not settle; check the data for copied or constant wears.")


def _climb(model: NestedModel, roots: Floats, active: NDArray[np.bool_]) -> Floats:
    """The best roots of the active components, started from the given ones."""
    if not active.any():
        return roots

    def full(x: Floats) -> Floats:
        out = np.zeros(len(COMPONENTS))
        out[active] = x
        return out

    def value_and_slope(x: Floats) -> tuple[float, Floats]:
        at = model.evaluate(full(x) ** 2)
        return at.criterion, 2 * x * at.gradient[active]

    x = optimize.minimize(
        value_and_slope,
        roots[active],
        jac=True,
        method="L-BFGS-B",
        bounds=[(0.0, _LARGEST_RATIO_ROOT)] * int(active.sum()),
        options={"ftol": 1e-15, "gtol": 1e-8, "maxiter": 500},
    ).x
    if x.max() > 0.99 * _LARGEST_RATIO_ROOT:
        raise NoConvergence("The readings leave no residual noise: look for wears that repeat one another exactly.")
    return full(_polish(value_and_slope, x))


def _polish(value_and_slope: Callable[[Floats], tuple[float, Floats]], x: Floats, n_steps: int = 3) -> Floats:
    """Newton steps from a differenced gradient, each kept only if the slope shrinks and the criterion does not grow;
    none where the slope is the criterion's own rounding."""
    value, slope = value_and_slope(x)
    for _ in range(n_steps):
        if np.abs(slope).max() <= 1e-10 * (1 + abs(value)):
            return x
        hessian = np.array([(value_and_slope(x + d)[1] - slope) / d.sum() for d in np.diag(1e-5 * (x + 1e-3))])
        trial = x - np.linalg.lstsq((hessian + hessian.T) / 2, slope, rcond=1e-10)[0]
        if trial.min() < 0:
            return x
        trial_value, trial_slope = value_and_slope(trial)
        if trial_value > value + 1e-10 * (1 + abs(value)) or np.abs(trial_slope).max() >= np.abs(slope).max():
            return x
        x, value, slope = trial, trial_value, trial_slope
    return x


def _component_at_zero(model: NestedModel, roots: Floats, active: NDArray[np.bool_]) -> int | None:
    """A component that the criterion does not miss: taking it out costs nothing."""
    at = model.evaluate(roots**2)
    for component in np.argsort(roots):
        if active[component]:
            without = roots.copy()
            without[component] = 0.0
            if model.evaluate(without**2).criterion <= at.criterion + 1e-11 * (1 + abs(at.criterion)):
                return int(component)
    return None


def flat_directions(model: NestedModel, free: Sequence[bool] = (True, True, True, False)) -> Floats:
    """Combinations of variances along which the restricted likelihood does not change.

    Returns an orthonormal basis, shape (5, n_flat), over the four components and the residual. The likelihood
    depends on the variances only through the projected covariance, which is linear in them; so it is flat exactly
    along the null space of the expected information tr(P V_i P V_j), whatever the values in the data.
    """
    tested = np.flatnonzero(np.asarray(free, dtype=bool))
    # An interior point at which every level matters: one reading's share of an average wear's noise.
    ratios = np.where(free, float(np.median(model.noise)), 0.0)
    at = model.evaluate(ratios)
    information = np.zeros((tested.size + 1, tested.size + 1))
    for row, component in enumerate(tested):
        step = np.zeros(len(COMPONENTS))
        step[component] = 1e-4 * ratios[component]
        change = model.evaluate(ratios + step).trace - model.evaluate(ratios - step).trace
        information[row, :-1] = -change[tested] / (2 * step[component])
    information = (information + information.T) / 2
    # tr(P V) = residual df and homogeneity give the residual's row and column without further differencing.
    inner, point = information[:-1, :-1], ratios[tested]
    cross = at.trace[tested] - inner @ point
    residual_trace = model.residual_df - point @ at.trace[tested]
    information[-1, :-1] = information[:-1, -1] = cross
    information[-1, -1] = residual_trace - point @ cross
    levels = np.array([model.n_people, model.n_units, model.n_wears, model.n_cells])
    size = point / np.sqrt(levels[tested])
    places = tested
    if model.scale_known:
        information = inner
    else:
        size = np.append(size, 1 / np.sqrt(model.n_readings))
        places = np.append(tested, len(COMPONENTS))
    eigenvalues, vectors = np.linalg.eigh(information * np.outer(size, size))
    null = size[:, None] * vectors[:, eigenvalues < _FLAT]
    basis = np.zeros((len(COMPONENTS) + 1, null.shape[1]))
    basis[places] = np.linalg.qr(null)[0] if null.size else null
    return basis
