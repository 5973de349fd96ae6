"""Restricted maximum likelihood on single wears: the exact fit that everything else is measured against.

Nothing that is published comes from here; it needs people's own rows. It serves as referee.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pooling.errors import InvalidInput
from pooling.hierarchy.individual import (
    PERSON,
    PERSON_CELL,
    WEAR,
    Floats,
    Ints,
    NestedModel,
    nested_model,
)
from pooling.hierarchy.optimum import best_ratios, flat_directions


@dataclass(frozen=True, slots=True)
class RemlFit:
    """Outcome of `reml`; standard deviations in the unit of `mean`, one mean (`beta`, `se`) per cell of `cells`.

    `identified` is False when the data cannot tell some components apart. Variance that they share is then split
    equally, a component about which the data say nothing is 0.0, and `remarks` says which case it is.
    """

    criterion: float
    cells: Ints
    beta: Floats
    se: Floats
    covariance: Floats
    sd_person: float
    sd_person_cell: float
    sd_wear: float
    sd_residual: float
    identified: bool
    remarks: tuple[str, ...]
    n_people: int
    n_wears: int
    n_pairs: int


def reml(mean: ArrayLike, n_pairs: ArrayLike, centred_ss: ArrayLike, person: ArrayLike, cell: ArrayLike) -> RemlFit:
    """Exact REML fit of reading = cell + person + person-by-cell + wear + noise, from three numbers a wear.

    Claim: criterion, standard deviations, cell means and their standard errors are those of the model on the raw
    readings (in lme4's notation `y ~ 0 + cell + (1|person) + (1|person:cell) + (1|wear)`, criterion `REMLcrit`).
    A wear's readings split by an orthonormal rotation into n - 1 contrasts that hold only noise and sqrt(n) times
    their mean, so mean, count and centred sum of squares lose nothing.

    Assumptions: independent Gaussian effects and noise, one variance per level, the same in every cell.

    Parameters
    ----------
    mean : array (n_wears,)
        Mean of the wear's readings, any unit (log ratio, for instance).
    n_pairs : array (n_wears,) of whole numbers >= 1
        Readings of the wear.
    centred_ss : array (n_wears,), >= 0
        Sum of squared deviations of the readings from `mean`; 0 where there is one reading.
    person, cell : arrays (n_wears,) of whole numbers
        Labels; rows may come in any order.

    Returns
    -------
    RemlFit
        `beta` and `se` by ascending cell label. A component estimated at zero is exactly 0.0.

    Raises
    ------
    InvalidInput
        Arrays of different length, no rows, values out of range, no more readings than cells, or no variation left
        from which noise could be estimated.
    NoConvergence
        The likelihood grows without bound or no optimum is found.

    Notes
    -----
    Bates, Maechler, Bolker & Walker, J Stat Softw 2015;67(1), sec. 3 (profiled REML criterion); Patterson &
    Thompson, Biometrika 1971;58:545-554 (REML; from memory). Cost is linear in wears and independent of readings.

    Examples
    --------
    Two people, one cell, two wears each of two readings:

    >>> fit = reml([1.0, 3.0, 5.0, 7.0], [2, 2, 2, 2], [1.0, 1.0, 1.0, 1.0], [1, 1, 2, 2], [0, 0, 0, 0])
    >>> round(float(fit.beta[0]), 6), fit.identified
    (4.0, False)
    """
    mean, n_pairs, centred_ss, person, cell = _checked(mean, n_pairs, centred_ss, person, cell)
    model = nested_model(mean, 1 / n_pairs, person, cell, n_pairs=n_pairs, centred_ss=centred_ss)
    _check_noise(model, mean)
    optimum = best_ratios(model)
    flat = flat_directions(model)
    ratios, at = optimum.ratios, optimum.at
    variances = at.scale * np.append(ratios, 1.0)
    if flat.shape[1]:
        variances = _split_equally(variances, flat)
        ratios = variances[:-1] / variances[-1]
        at = model.evaluate(ratios)
        variances = at.scale * np.append(ratios, 1.0)
    sds = np.sqrt(variances)
    return RemlFit(
        criterion=at.criterion,
        cells=np.unique(cell),
        beta=at.beta,
        se=np.sqrt(at.covariance.diagonal()),
        covariance=at.covariance,
        sd_person=float(sds[PERSON]),
        sd_person_cell=float(sds[PERSON_CELL]),
        sd_wear=float(sds[WEAR]),
        sd_residual=float(sds[-1]),
        identified=flat.shape[1] == 0,
        remarks=_remarks(model, flat),
        n_people=model.n_people,
        n_wears=model.n_wears,
        n_pairs=model.n_readings,
    )


def _checked(
    mean: ArrayLike, n_pairs: ArrayLike, centred_ss: ArrayLike, person: ArrayLike, cell: ArrayLike
) -> tuple[Floats, Floats, Floats, Ints, Ints]:
    named = {"mean": mean, "n_pairs": n_pairs, "centred_ss": centred_ss, "person": person, "cell": cell}
    arrays = {name: np.asarray(values) for name, values in named.items()}
    sizes = {a.shape for a in arrays.values()}
    if len(sizes) != 1 or arrays["mean"].ndim != 1 or not arrays["mean"].size:
        shapes = ", ".join(f"{name} {a.shape}" for name, a in arrays.items())
        raise InvalidInput(f"One row a wear is needed, the same number in every column; got {shapes}.")
    for name in ("mean", "n_pairs", "centred_ss"):
        arrays[name] = arrays[name].astype(float)
        _demand(np.isfinite(arrays[name]), name, "must be a finite number")
    _demand((arrays["n_pairs"] >= 1) & (arrays["n_pairs"] % 1 == 0), "n_pairs", "must be a whole number from 1 up")
    _demand(arrays["centred_ss"] >= 0, "centred_ss", "must not be negative")
    single = arrays["n_pairs"] == 1
    _demand(~single | (arrays["centred_ss"] == 0), "centred_ss", "must be 0 for a wear of one reading")
    for name in ("person", "cell"):
        if arrays[name].dtype.kind not in "iu":
            raise InvalidInput(f"{name} must hold whole-number labels, not {arrays[name].dtype}.")
    return arrays["mean"], arrays["n_pairs"], arrays["centred_ss"], arrays["person"], arrays["cell"]


def _demand(held: NDArray[np.bool_], name: str, rule: str) -> None:
    if not held.all():
        raise InvalidInput(f"{name}, row {int(np.flatnonzero(~held)[0])}: {rule}.")


def _check_noise(model: NestedModel, mean: Floats) -> None:
    if model.residual_df < 1:
        raise InvalidInput("There are no more readings than cells; nothing is left to estimate noise from.")
    dust = 1e-24 * model.n_readings * float(np.abs(mean).max()) ** 2
    if model.n_readings > model.n_wears:
        if model.within_ss <= dust:
            raise InvalidInput("Every wear is constant (centred_ss is 0 throughout); its noise cannot be estimated.")
    elif model.value @ model.value <= dust:
        raise InvalidInput("The means do not vary within any cell; noise cannot be estimated.")


def _split_equally(variances: Floats, flat: Floats) -> Floats:
    """The shortest vector of variances with the same likelihood, or the given one if that would be negative."""
    shortest = variances - flat @ (flat.T @ variances)
    shortest[np.abs(shortest) < 1e-12 * variances.sum()] = 0.0
    return variances if shortest.min() < 0 or shortest[-1] == 0 else shortest


def _remarks(model: NestedModel, flat: Floats) -> tuple[str, ...]:
    involved = [bool((np.abs(row) > 1e-6).any()) for row in flat]
    remarks = []
    if involved[PERSON] and model.n_people == 1:
        remarks.append("All wears are one person's: how people differ cannot be seen.")
    if any(involved) and model.n_units == model.n_wears:
        remarks.append("Nobody has two wears in one cell: person-by-cell and wear spread show only as a sum.")
    if any(involved) and model.n_people == model.n_units:
        remarks.append("Nobody wore two cells: cells are compared between different people.")
    if involved[-1]:
        remarks.append("Every wear has one reading: wear spread and noise show only as a sum.")
    if any(involved) and not remarks:
        remarks.append("Some variance components cannot be told apart in these data.")
    return tuple(remarks)
