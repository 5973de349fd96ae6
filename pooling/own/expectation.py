"""The own estimate as an answer: figures with limits, and what they rest on in words."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pooling.own.estimate import OwnWear, Predicted, predict, usable
from pooling.own.prior import Basis, Prior, prior_of
from pooling.vocabulary import counted, label

Floats = NDArray[np.float64]

NOTE_IN_POOL = (
    "Own wears that were given may already be in the pool's figures, and then count a little more than once here. "
    "Figures of at least 30 people hardly move with one of them."
)
NOTE_STARTER = (
    "No edition of this group tells enough yet. In its place stand figures of published studies of other people, with "
    "other sensors: a first guess with wide limits. The sources are named."
)
NOTE_OTHER_MODEL = (
    "All wears of this edition are of one sensor model. How far another may differ is taken from published studies of "
    "other sensors, which are named."
)
NOTE_OTHER_SITE = (
    "All wears of this edition are of one site. How far another may differ is taken from published studies of several "
    "sites, which are named."
)
_NOTES_BY_STUDIES = {"model": NOTE_OTHER_MODEL, "site": NOTE_OTHER_SITE}
NOTE_NOT_TREATMENT = "It is an expectation from earlier wears and says nothing about any single reading."
NOTE_SAME_PEOPLE = {
    "adult": "The pool's people are adults.",
    "child": "The pool's people are children.",
    "mixed": "The pool's people are adults and children together.",
}
_HOW_MUCH_OWN = (
    (0.1, "almost nothing of it comes from own wears"),
    (0.4, "it comes mostly from other people, and a part from own wears"),
    (0.6, "about half of it comes from own wears and half from other people"),
    (0.9, "it comes mostly from own wears"),
    (1.01, "almost all of it comes from own wears"),
)


@dataclass(frozen=True, slots=True)
class Expected:
    """One figure: what this person can expect on average there with 95 % limits, and the 80 % range of one new wear."""

    value: float
    lower: float
    upper: float
    new_wear_from: float
    new_wear_to: float


@dataclass(frozen=True, slots=True)
class Share:
    """A share of readings with its 95 % limits."""

    value: float
    lower: float
    upper: float


@dataclass(frozen=True, slots=True)
class Expectation:
    """What to expect of a new wear. Percentages run from 0 to 100."""

    site: str
    label: str
    sensor_model: str | None
    basis: Basis
    licensed: bool | None
    told_of: str
    n_own_wears: int
    n_own_wears_here: int
    n_left_out: int
    mard_pct: Expected
    bias_pct: Expected
    within_15_15_pct: Share
    own_share_pct: Mapping[str, int]
    says: tuple[str, ...]
    notes: tuple[str, ...]
    sources: tuple[str, ...]


def expectation(
    wears: Sequence[OwnWear], document: Mapping[str, Any] | None, *, site: str, sensor_model: str | None = None
) -> Expectation:
    """What one person can expect of a new wear at a site.

    Parameters
    ----------
    wears
        All of that person's wears.
    document
        The edition to draw on, or None before there is one.
    site, sensor_model
        Where; None looks over all sensor models.

    Raises
    ------
    InvalidInput
        If there is no such site.
    """
    prior = prior_of(document)
    predicted = predict(wears, prior, site=site, sensor_model=sensor_model)
    used = usable(wears, prior, sensor_model)
    here = [wear for wear in used if wear.site == site and sensor_model in (None, wear.sensor_model)]
    mard, bias = (
        _expected(100 * predicted.person_mard, 100 * predicted.wear_mard),
        _expected(100 * predicted.person_bias, 100 * predicted.wear_bias),
    )
    within = _share(100 * predicted.person_within_15)
    n_left_out = len(wears) - len(used)
    return Expectation(
        site=site,
        label=label(site),
        sensor_model=sensor_model,
        basis=prior.basis,
        licensed=_licensed(document, site, sensor_model),
        told_of=predicted.level.told_of,
        n_own_wears=len(used),
        n_own_wears_here=len(here),
        n_left_out=n_left_out,
        mard_pct=mard,
        bias_pct=bias,
        within_15_15_pct=within,
        own_share_pct={
            name: round(100 * share) for name, share in zip(("mard", "bias"), predicted.own_share_frac, strict=True)
        },
        says=_says(predicted, mard, within, len(used), len(here)),
        notes=_notes(prior, site, sensor_model, len(used), n_left_out),
        sources=prior.cites(site, sensor_model),
    )


def _expected(person: Floats, wear: Floats) -> Expected:
    lower, upper = np.quantile(person, (0.025, 0.975))
    start, end = np.quantile(wear, (0.1, 0.9))
    return Expected(*(round(float(number), 1) for number in (person.mean(), lower, upper, start, end)))


def _share(person: Floats) -> Share:
    lower, upper = np.quantile(person, (0.025, 0.975))
    return Share(*(round(float(number), 1) for number in (person.mean(), lower, upper)))


def _licensed(document: Mapping[str, Any] | None, site: str, sensor_model: str | None) -> bool | None:
    """As the edition's row says; None where it has no such row."""
    tables = (document or {}).get("tables", {})
    rows = tables.get("sites" if sensor_model is None else "sites_by_model", ())
    return next((row["licensed"] for row in rows if (row["site"], row["sensor_model"]) == (site, sensor_model)), None)


def _says(predicted: Predicted, mard: Expected, within: Share, n_used: int, n_here: int) -> tuple[str, ...]:
    return (
        f"On average, a new wear's readings can be expected to lie {mard.value:.1f} % from the fingerstick (MARD); "
        f"with 95 % probability this person's average there is between {mard.lower:.1f} and {mard.upper:.1f} %.",
        f"One single new wear would lie between {mard.new_wear_from:.1f} and {mard.new_wear_to:.1f} % 8 times of 10.",
        f"Of 100 readings, {within.value:.0f} can be expected within 15 mg/dL or 15 % of the fingerstick.",
        f"This rests on {counted(n_used, 'own wear')}, {n_here} of them there, and on {predicted.level.told_of}: "
        f"{how_much_own(predicted.own_share_frac[0])}.",
    )


def how_much_own(share_frac: float) -> str:
    """The shrinkage in words.

    Examples
    --------
    >>> how_much_own(0.55)
    'about half of it comes from own wears and half from other people'
    """
    return next(words for below, words in _HOW_MUCH_OWN if share_frac < below)


def _notes(prior: Prior, site: str, sensor_model: str | None, n_used: int, n_left_out: int) -> tuple[str, ...]:
    notes = [NOTE_NOT_TREATMENT]
    if prior.basis == "starter":
        notes.append(NOTE_STARTER)
    elif prior.document is not None:
        notes.append(NOTE_SAME_PEOPLE[prior.document["about"]["wearers"]])
        notes += [NOTE_IN_POOL] if n_used else []
        by_studies = prior.by_studies(site, sensor_model)
        notes += [note for name, note in _NOTES_BY_STUDIES.items() if name in by_studies]
    if n_left_out:
        other = " or of another sensor model" if prior.basis == "starter" else ""
        notes.append(f"{counted(n_left_out, 'own wear')} with too few pairs (under eight){other} cannot be used.")
    return tuple(notes)
