"""Which site serves best what matters to a reader: a reader's weights laid on the published figures of one edition.

Claim: for stated weights, how often each site comes out first when every published figure is drawn from what its
interval says. Assumptions: worth is linear in each figure, on scales that are fixed for all editions, so that adding or
leaving out a site never changes how two others compare; a figure follows a normal law whose halves have the widths of
the two halves of its published interval; figures of different criteria and different sites are independent, except for
accuracy, where the published contrasts tell how far the errors of two sites go together. Everything is computed from
the document, so it can tell nothing that the document does not.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri
from scipy.stats import rankdata

from pooling.edition.document import contrast_row, table_rows
from pooling.errors import InvalidInput
from pooling.vocabulary import SITES, label

Floats = NDArray[np.float64]
Figure = Mapping[str, Any]

N_DRAWS = 20_000
_Z_95_PCT = float(ndtri(0.975))
_LARGEST_CORRELATION = 0.99


@dataclass(frozen=True, slots=True)
class Criterion:
    """One thing that may matter: where its figure stands in the document, and what a weight sets equal.

    `swing` is the difference that equal weights count alike; negative where less is better. `lowest` and `highest` are
    the ends of the figure's scale.
    """

    table: str
    figure: str
    swing: float
    lowest: float
    highest: float
    says: str
    rating: str | None = None


def _rated(rating: str, says: str) -> Criterion:
    return Criterion("ratings", "mean_points", 4.0, 0.0, 10.0, says, rating=rating)


# No source prices a point of MARD in lost sensors: the swings are ours, stated with every answer. Each is about the
# span between a good and a poor site.
CRITERIA: Mapping[str, Criterion] = MappingProxyType(
    {
        "accuracy": Criterion(
            "sites", "mard_pct", -10.0, 0.0, np.inf, "10 points less expected difference from the fingerstick (MARD)"
        ),
        "stays_on": Criterion(
            "survival",
            "on_rated_pct",
            40.0,
            0.0,
            100.0,
            "40 in 100 wears more that stay on for the sensor's rated life",
        ),
        "skin": Criterion("skin", "reaction_pct", -40.0, 0.0, 100.0, "40 in 100 people fewer whose skin reacts"),
        "ease": _rated("ease", "4 points more, of 10, for how easy the sensor is to place"),
        "comfort": _rated("comfort", "4 points more, of 10, for comfort"),
        "discretion": _rated("discretion", "4 points more, of 10, for how little it shows"),
    }
)

NOTE_SCALE = "Weights of the same size count these differences alike; within each, worth rises in a straight line."
NOTE_INDEPENDENT = (
    "Figures of different kinds, and of different sites, are taken as independent: the edition does not say how they "
    "go together."
)
NOTE_CONTRASTS = (
    "For accuracy, the differences between sites that the edition prints say how far two sites go together."
)
NOTE_BOUNDS = "Where the edition tells only a bound, every value on its side is taken as equally likely."
NOTE_LEFT_OUT = (
    "Sites that the edition does not show, or of which it withholds a figure that you gave weight to, are left out. "
    "That says nothing against them."
)
NOTE_NOTHING = "Fewer than two sites have all the figures that these weights ask for: there is nothing to weigh."
NOTE_FEW_AHEAD = "No site is likely to serve best by these weights; another one may well."


@dataclass(frozen=True, slots=True)
class SiteChance:
    """One site's chance to serve best and to serve worst of those compared, and the figures it rests on.

    `place_from` and `place_to` are the places in the order, 1 first, between which it comes with 80 % probability.
    """

    site: str
    label: str
    p_best_frac: float
    p_worst_frac: float
    place_from: int
    place_to: int
    figures: Mapping[str, Figure]


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A site that cannot be compared, and the weighted criteria that the edition does not tell of it."""

    site: str
    label: str
    not_told: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Choice:
    """The answer: sites in order of their chance to serve best, and what else a reader has to know."""

    sensor_model: str | None
    weights: Mapping[str, float]
    sites: tuple[SiteChance, ...]
    left_out: tuple[LeftOut, ...]
    scales: Mapping[str, str]
    notes: tuple[str, ...]


def choose(
    document: dict, weights: Mapping[str, float], rng: np.random.Generator, *, sensor_model: str | None = None
) -> Choice:
    """Weigh the sites of one edition.

    Parameters
    ----------
    document
        An edition document.
    weights
        How much each criterion matters, at least 0; only their proportions count.
    rng
        Seeded from the document's digest, so that the same document and weights give the same answer.
    sensor_model
        Compare sites for this sensor model; over all models without.

    Raises
    ------
    InvalidInput
        If a criterion is unknown, a weight is negative or not finite, or all are zero.

    Notes
    -----
    20,000 draws: a chance is known to within 0.7 points (two standard errors at one half), and given in whole points.
    """
    shares = normalised(weights)
    told = {site: _figures(document, site, sensor_model, shares) for site in SITES}
    compared = [site for site in SITES if len(told[site]) == len(shares)]
    left_out = tuple(
        LeftOut(site, label(site), tuple(name for name in shares if name not in told[site]))
        for site in SITES
        if site not in compared
    )
    chances = _chances(document, compared, told, shares, sensor_model, rng) if len(compared) > 1 else ()
    used = [figure for chance in chances for figure in chance.figures.values()]
    return Choice(
        sensor_model=sensor_model,
        weights=shares,
        sites=chances,
        left_out=left_out,
        scales={name: CRITERIA[name].says for name in shares},
        notes=_notes(chances, shares, any("bound" in figure for figure in used)),
    )


def normalised(weights: Mapping[str, float]) -> dict[str, float]:
    """Weights that add up to 1, without those of nothing, in the order of CRITERIA.

    Examples
    --------
    >>> normalised({"skin": 1, "accuracy": 3, "ease": 0})
    {'accuracy': 0.75, 'skin': 0.25}
    """
    unknown = sorted(set(weights) - set(CRITERIA))
    if unknown:
        raise InvalidInput(f"no such criterion; choose among {', '.join(CRITERIA)}")
    if not all(np.isfinite(weight) and weight >= 0 for weight in weights.values()):
        raise InvalidInput("a weight is a number of at least 0")
    whole = sum(weights.values())
    if not np.isfinite(whole) or whole <= 0:
        raise InvalidInput("give at least one criterion a weight above 0")
    return {name: weights[name] / whole for name in CRITERIA if weights.get(name, 0) > 0}


def _figures(document: dict, site: str, sensor_model: str | None, shares: Mapping[str, float]) -> dict[str, Figure]:
    """The published figures of one site that may be drawn from: those with an interval, and bounds."""
    found = {name: _figure(document, CRITERIA[name], site, sensor_model) for name in shares}
    return {name: figure for name, figure in found.items() if figure is not None}


def _figure(document: dict, criterion: Criterion, site: str, sensor_model: str | None) -> Figure | None:
    table = "sites_by_model" if criterion.table == "sites" and sensor_model else criterion.table
    for row in table_rows(document, table):
        if row["site"] == site and row["sensor_model"] == sensor_model and row.get("rating") == criterion.rating:
            figure = row[criterion.figure]
            return figure if figure and ("bound" in figure or {"value", "lower", "upper"} <= set(figure)) else None
    return None


def _chances(
    document: dict,
    sites: Sequence[str],
    told: Mapping[str, Mapping[str, Figure]],
    shares: Mapping[str, float],
    sensor_model: str | None,
    rng: np.random.Generator,
) -> tuple[SiteChance, ...]:
    worth = np.zeros((N_DRAWS, len(sites)))
    # All sites and criteria are drawn, whatever their weight: the same draws then stand behind all weights.
    normal = rng.standard_normal((len(CRITERIA), N_DRAWS, len(SITES)))[:, :, [SITES.index(site) for site in sites]]
    for name, share in shares.items():
        criterion, z = CRITERIA[name], normal[list(CRITERIA).index(name)]
        figures = [told[site][name] for site in sites]
        if name == "accuracy":
            z = z @ _root(_correlations(document, sites, figures, sensor_model)).T
        drawn = np.column_stack([_drawn(figure, z[:, i], criterion) for i, figure in enumerate(figures)])
        worth += share * drawn / criterion.swing
    best, worst = _first(worth), _first(-worth)
    first, last = np.quantile(_places(worth), (0.1, 0.9), axis=0, method="nearest").astype(int)
    chances = (
        SiteChance(
            site=site,
            label=label(site),
            p_best_frac=round(float(best[i]), 2),
            p_worst_frac=round(float(worst[i]), 2),
            place_from=int(first[i]),
            place_to=int(last[i]),
            figures=told[site],
        )
        for i, site in enumerate(sites)
    )
    return tuple(sorted(chances, key=lambda chance: (-chance.p_best_frac, chance.p_worst_frac, chance.site)))


def _drawn(figure: Figure, z: Floats, criterion: Criterion) -> Floats:
    """Draws of one figure from standard normal ones: a two-piece normal law, or even over a bound's side."""
    if "bound" in figure:
        end = criterion.lowest if figure["bound"] == "at_most" else criterion.highest
        return np.asarray(end + (figure["value"] - end) * ndtr(z))
    below, above = _half_sds(figure)
    return np.clip(figure["value"] + z * np.where(z < 0, below, above), criterion.lowest, criterion.highest)


def _half_sds(figure: Figure) -> tuple[float, float]:
    return (figure["value"] - figure["lower"]) / _Z_95_PCT, (figure["upper"] - figure["value"]) / _Z_95_PCT


def _first(worth: Floats) -> Floats:
    """How often each column is the largest; those that are equal share it."""
    leads = worth == worth.max(axis=1, keepdims=True)
    return np.asarray((leads / leads.sum(axis=1, keepdims=True)).mean(axis=0))


def _places(worth: Floats) -> Floats:
    """Place of each column in each row's order, the largest first; those that are equal share the middle."""
    return np.asarray(rankdata(-worth, axis=1))


def _correlations(document: dict, sites: Sequence[str], figures: Sequence[Figure], sensor_model: str | None) -> Floats:
    """How errors of two sites' MARD go together, from the widths of the sites and of their contrast; 0 where untold."""
    sd = [sum(_half_sds(figure)) / 2 for figure in figures]
    found = np.eye(len(sites))
    for i, j in combinations(range(len(sites)), 2):
        row = contrast_row(document, sites[i], sites[j], sensor_model) or contrast_row(
            document, sites[j], sites[i], sensor_model
        )
        if row is None or not sd[i] * sd[j]:
            continue
        difference = sum(_half_sds(row["difference_points"])) / 2
        together = (sd[i] ** 2 + sd[j] ** 2 - difference**2) / (2 * sd[i] * sd[j])
        found[i, j] = found[j, i] = np.clip(together, -_LARGEST_CORRELATION, _LARGEST_CORRELATION)
    return found


def _root(correlations: Floats) -> Floats:
    """R with R R' equal to the matrix, or to a correlation matrix near it where rounding left it none."""
    values, vectors = np.linalg.eigh(correlations)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    return np.asarray(root / np.linalg.norm(root, axis=1, keepdims=True))


def _notes(chances: Sequence[SiteChance], shares: Mapping[str, float], any_bound: bool) -> tuple[str, ...]:
    if not chances:
        return (NOTE_NOTHING, NOTE_LEFT_OUT)
    said = {
        NOTE_FEW_AHEAD: chances[0].p_best_frac < 0.5,
        NOTE_SCALE: len(shares) > 1,
        NOTE_INDEPENDENT: True,
        NOTE_CONTRASTS: "accuracy" in shares,
        NOTE_BOUNDS: any_bound,
        NOTE_LEFT_OUT: True,
    }
    return tuple(note for note, holds in said.items() if holds)
