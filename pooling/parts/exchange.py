"""Places that are alike but not the same: the figure of each, moved toward the others by as much as they differ."""

from collections.abc import Sequence

import numpy as np

from pooling.parts.contrasts import Measured
from pooling.parts.sums import Floats

_N_NODES, _FARTHEST = 120, 5.0


def exchangeable(measured: Sequence[Measured], scale: float, rng: np.random.Generator, *, draws: int) -> Floats:
    """Draws of the true figure of each place.

    Claim: where measured figures are normal about true ones with known variances, and true ones normal about a common
    mean, these are independent draws of the posterior, but for a grid of the common sd.

    Parameters
    ----------
    measured : sequence of Measured
        One a place.
    scale : float
        Of the half-normal prior on the sd between places; the common mean has a flat prior.
    rng : numpy.random.Generator
    draws : int

    Returns
    -------
    ndarray, shape (draws, places)
        A single place keeps what was measured.

    Notes
    -----
    Rubin 1981 (J. Educ. Stat. 6, 377-401), as in Gelman et al., Bayesian Data Analysis, 3rd ed., section 5.4: the sd on
    a grid, then the mean, then the places, each normal given what came before.
    """
    values = np.array([one.value for one in measured])
    variances = np.array([one.variance for one in measured])
    if len(values) == 1:
        return values + rng.standard_normal((draws, 1)) * variances**0.5
    sd = np.linspace(0.0, _FARTHEST * scale, _N_NODES)
    precision = 1 / (variances + sd[:, None] ** 2)
    about = 1 / precision.sum(axis=1)
    centre = about * (precision * values).sum(axis=1)
    log_posterior = (
        -0.5 * (sd / scale) ** 2
        + 0.5 * np.log(about)
        + 0.5 * np.log(precision).sum(axis=1)
        - 0.5 * (precision * (values - centre[:, None]) ** 2).sum(axis=1)
    )
    chance = np.exp(log_posterior - log_posterior.max())
    node = rng.choice(_N_NODES, draws, p=chance / chance.sum())
    common = centre[node] + about[node] ** 0.5 * rng.standard_normal(draws)
    own = sd[node, None] ** 2 / (sd[node, None] ** 2 + variances)
    mean = own * values + (1 - own) * common[:, None]
    return np.asarray(mean + (own * variances) ** 0.5 * rng.standard_normal(mean.shape))
