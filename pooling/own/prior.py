"""What an own estimate starts from: an edition's published model block, or published studies before there is one."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal

import numpy as np
from scipy.optimize import brentq

from pooling import starter
from pooling.edition.document import site_row
from pooling.hierarchy.closedforms import Mixture
from pooling.starter import Spreads
from pooling.vocabulary import REGIONS, SITES, label, region_of

Basis = Literal["edition", "starter"]

_WIDTH_95 = 2 * 1.959963984540054
_SPREAD_NAMES = ("people", "person_cell", "wear")
_CHANNELS = ("location", "dispersion")


@dataclass(frozen=True, slots=True)
class Level:
    """What is expected of everybody at a cell, in log units, and how well that is known.

    `mard_pct` and `within_15_15_pct` are what the pool says of a new person there (None: it says nothing), to which the
    law of readings is moved. `off` holds by channel, as a variance, how far the cell that is asked about may lie from
    the one that is told.
    """

    location: float
    location_sd: float
    log_variance: float
    log_variance_sd: float
    mard_pct: float
    within_15_15_pct: float | None
    told_of: str
    off: Mapping[str, float] = field(default_factory=lambda: dict.fromkeys(_CHANNELS, 0.0))


@dataclass(frozen=True, slots=True)
class Prior:
    """Spreads, shape of readings, and levels by site, all of them published figures."""

    basis: Basis
    spreads: Mapping[str, Spreads]
    kurtosis: float
    document: Mapping[str, Any] | None = None
    sensor_variance: Mapping[str, float] = field(default_factory=lambda: dict.fromkeys(_CHANNELS, 0.0))
    """What is not known of the sensor itself, and so the same at all sites; an edition knows its sensors."""

    def level(self, site: str, sensor_model: str | None) -> Level:
        """The level of a cell; that of its parents where the cell itself is not told."""
        if self.document is None:
            return _starter_level(site, self)
        return _level(self.document, site, sensor_model)

    def cites(self, site: str, sensor_model: str | None) -> tuple[str, ...]:
        """Sources of the figures that are no edition's: of all, or of how far sensor models or sites differ."""
        if self.document is None:
            return (*starter.starter_level(site).cites, starter.SPREADS_CITE)
        if self.by_studies(site, sensor_model):
            return tuple(study.cite for study in starter.STUDIES)
        return ()

    def by_studies(self, site: str, sensor_model: str | None) -> frozenset[str]:
        """What an edition is asked to bridge and has no spread of: between its only `model` (or `site`) and others."""
        if self.document is None:
            return frozenset()
        told = self.document["model"]["spreads"]["location"]
        bridged = {"model": not _is_only_model(self.document, sensor_model), "site": not _tells(self.document, site)}
        return frozenset(name for name, needed in bridged.items() if needed and name not in told)


def prior_of(document: Mapping[str, Any] | None) -> Prior:
    """From an edition, if it has a model block; else from the published studies."""
    model = (document or {}).get("model") or {}
    spreads = {name: model.get("spreads", {}).get(name, {}) for name in _CHANNELS}
    if not model.get("cells") or not all(part in told for told in spreads.values() for part in _SPREAD_NAMES):
        return Prior("starter", starter.SPREADS, starter.KURTOSIS, sensor_variance=starter.sensor_variance())
    kurtosis = model.get("shape", {}).get("kurtosis", {}).get("value", starter.KURTOSIS)
    return Prior("edition", {name: _spreads(told) for name, told in spreads.items()}, kurtosis, document)


def _spreads(told: Mapping[str, Any]) -> Spreads:
    """`people` holds all that differs between people at one cell, who chose it included; the person's is the rest."""
    people, unit, wear = (told[name]["value"] for name in _SPREAD_NAMES)
    return Spreads(math.sqrt(max(people**2 - unit**2, 0.0)), unit, wear)


# ---- from an edition ---------------------------------------------------------------------------------------------


def _level(document: Mapping[str, Any], site: str, sensor_model: str | None) -> Level:
    """The first of: this cell, this site over all models, other sites of its region, all sites that are told.

    Who names no model wears one all the same, which differs from the mean over models as one that is not told does.
    """
    if sensor_model and (own := _told(document, site, sensor_model, "this site and sensor model")):
        return own
    models = () if _is_only_model(document, sensor_model) else ("model", "site_model")
    if own := _told(document, site, None, "this site, over all sensor models"):
        return _widened(document, own, models)
    region = region_of(site)
    others = [other for other in REGIONS[region] if other != site]
    if near := _mean(document, others, f"other sites of the {label(region)}"):
        return _widened(document, near.level, (*models, "site"), near)
    # A model block has a row at least; if none names a site, regions and "other" are all there is.
    found = _mean(document, SITES, "all sites together") or _of_rows(document["model"]["cells"], document)
    return _widened(document, found.level, (*models, "site", "region"), found)


def _is_only_model(document: Mapping[str, Any], sensor_model: str | None) -> bool:
    """Whether all wears of an edition are of this sensor model."""
    named = {cell["sensor_model"] for cell in document["model"]["cells"]} - {None}
    return named == {sensor_model} and "model" not in document["model"]["spreads"]["location"]


def _tells(document: Mapping[str, Any], site: str) -> bool:
    return any(cell["site"] == site for cell in document["model"]["cells"])


def _told(document: Mapping[str, Any], place: str, sensor_model: str | None, words: str) -> Level | None:
    cell = next((cell for cell in document["model"]["cells"] if _key(cell) == (place, sensor_model)), None)
    row = site_row(dict(document), place, sensor_model)
    return None if cell is None or row is None else _from_row(cell, row, words)


def _key(cell: Mapping[str, Any]) -> tuple[str, str | None]:
    return cell["site"] or cell["region"] or "other", cell["sensor_model"]


def _from_row(cell: Mapping[str, Any], row: Mapping[str, Any], words: str) -> Level:
    bias, mard = row["bias_pct"], row["mard_pct"]
    log_mard_sd = (mard["upper"] - mard["lower"]) / (_WIDTH_95 * mard["value"])
    return Level(
        location=cell["location"]["value"],
        location_sd=(math.log1p(bias["upper"] / 100) - math.log1p(bias["lower"] / 100)) / _WIDTH_95,
        log_variance=cell["log_variance"]["value"],
        log_variance_sd=2 * log_mard_sd,
        mard_pct=mard["value"],
        within_15_15_pct=row["within_15_15_pct"]["value"],
        told_of=words,
    )


@dataclass(frozen=True, slots=True)
class _Mean:
    """Several places as one: their weighted level, and the sum of the squared shares that they have in it."""

    level: Level
    squared_shares: float


def _mean(document: Mapping[str, Any], sites: Sequence[str], words: str) -> _Mean | None:
    found = [(own, _people(document, site)) for site in sites if (own := _told(document, site, None, words))]
    return _weighted(found, words) if found else None


def _of_rows(cells: Sequence[Mapping[str, Any]], document: Mapping[str, Any]) -> _Mean:
    found = [(own, 1) for cell in cells if (own := _told(document, *_key(cell), "all wears together"))]
    return _weighted(found, "all wears together")


def _people(document: Mapping[str, Any], site: str) -> int:
    row = site_row(dict(document), site)
    return int(row["people"]["at_least"]) if row else 0


def _weighted(found: Sequence[tuple[Level, int]], words: str) -> _Mean:
    weights = np.array([n for _, n in found], dtype=np.float64)
    weights /= weights.sum()

    def mean(name: str) -> float:
        return float(weights @ np.array([getattr(level, name) for level, _ in found]))

    level = Level(
        location=mean("location"),
        location_sd=mean("location_sd"),
        log_variance=mean("log_variance"),
        log_variance_sd=mean("log_variance_sd"),
        mard_pct=mean("mard_pct"),
        within_15_15_pct=mean("within_15_15_pct"),
        told_of=words,
    )
    return _Mean(level, float(weights @ weights))


def _widened(document: Mapping[str, Any], level: Level, names: Sequence[str], of_places: _Mean | None = None) -> Level:
    """A parent's level stands for a cell that may differ from it by the spreads between cells.

    The places that stand in lie off the middle of all places by a part of the spread between them, and the one asked
    about by all of it. An edition of one model, or of one site, has no such spread: published studies give it.
    """
    spreads = document["model"]["spreads"]
    unknown = {"model": starter.sensor_variance(), "site": starter.site_variance()}
    times = {"site": 1.0 + of_places.squared_shares} if of_places else {}

    def variance(channel: str, name: str) -> float:
        if name in spreads[channel]:
            return float(spreads[channel][name]["value"]) ** 2
        return unknown[name][channel] if name in unknown else 0.0

    def off(channel: str) -> float:
        return math.fsum(times.get(name, 1.0) * variance(channel, name) for name in names)

    return replace(level, off={channel: off(channel) for channel in _CHANNELS})


# ---- from published studies --------------------------------------------------------------------------------------


def _starter_level(site: str, prior: Prior) -> Level:
    """Levels under which sensors like those of the studies have the published MARD in the mean."""
    found = starter.starter_level(site)
    location, dispersion = (_all_variance(prior, channel) for channel in _CHANNELS)
    dispersion += (2 * found.sd_log) ** 2

    def short_of(log_variance: float) -> float:
        law = Mixture(
            np.array(0.0),
            np.array(location),
            np.array(log_variance),
            np.array(dispersion),
            prior.kurtosis,
        )
        return 100 * float(law.mean_relative_difference()) - found.mard_pct

    return Level(
        location=0.0,
        location_sd=0.0,
        log_variance=float(brentq(short_of, 2 * math.log(0.001), 2 * math.log(1.0))),
        log_variance_sd=2 * found.sd_log,
        mard_pct=found.mard_pct,
        within_15_15_pct=None,
        told_of="published studies of this site" if found.studied else "published studies of other sites",
    )


def _all_variance(prior: Prior, channel: str) -> float:
    spread = prior.spreads[channel]
    return spread.person**2 + spread.person_cell**2 + spread.wear**2 + prior.sensor_variance[channel]
