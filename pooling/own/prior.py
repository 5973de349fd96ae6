"""What an own estimate starts from: an edition's published model block, or published studies before there is one."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
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
    law of readings is moved.
    """

    location: float
    location_sd: float
    log_variance: float
    log_variance_sd: float
    mard_pct: float
    within_15_15_pct: float | None
    told_of: str


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
            return _starter_level(site, self.spreads, self.kurtosis)
        return _level(self.document, site, sensor_model)

    def cites(self, site: str) -> tuple[str, ...]:
        """Sources of the starter figures; none where an edition speaks."""
        return () if self.document is not None else (*starter.starter_level(site).cites, starter.SPREADS_CITE)


def prior_of(document: Mapping[str, Any] | None) -> Prior:
    """From an edition, if it has a model block; else from the published studies."""
    model = (document or {}).get("model") or {}
    spreads = {name: model.get("spreads", {}).get(name, {}) for name in _CHANNELS}
    if not model.get("cells") or not all(part in told for told in spreads.values() for part in _SPREAD_NAMES):
        off = {"location": starter.LOCATION_SD_LOG**2, "dispersion": (2 * starter.between_sensors_sd_log()) ** 2}
        return Prior("starter", starter.SPREADS, starter.KURTOSIS, sensor_variance=off)
    kurtosis = model.get("shape", {}).get("kurtosis", {}).get("value", starter.KURTOSIS)
    return Prior("edition", {name: _spreads(told) for name, told in spreads.items()}, kurtosis, document)


def _spreads(told: Mapping[str, Any]) -> Spreads:
    """`people` holds all that differs between people at one cell, who chose it included; the person's is the rest."""
    people, unit, wear = (told[name]["value"] for name in _SPREAD_NAMES)
    return Spreads(math.sqrt(max(people**2 - unit**2, 0.0)), unit, wear)


# ---- from an edition ---------------------------------------------------------------------------------------------


def _level(document: Mapping[str, Any], site: str, sensor_model: str | None) -> Level:
    """The first of: this cell, this site over all models, other sites of its region, all sites that are told."""
    if sensor_model and (own := _told(document, site, sensor_model, "this site and sensor model")):
        return own
    models = ("model", "site_model") if sensor_model else ()
    if own := _told(document, site, None, "this site, over all sensor models"):
        return _widened(document, own, models)
    region = region_of(site)
    others = [other for other in REGIONS[region] if other != site]
    near = _mean(document, others, f"other sites of the {label(region)}")
    if near:
        return _widened(document, near, (*models, "site"))
    found = _mean(document, SITES, "all sites together")
    # A model block has a row at least; if none names a site, regions and "other" are all there is.
    return _widened(document, found or _of_rows(document["model"]["cells"], document), (*models, "site", "region"))


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


def _mean(document: Mapping[str, Any], sites: Sequence[str], words: str) -> Level | None:
    found = [(own, _people(document, site)) for site in sites if (own := _told(document, site, None, words))]
    return _weighted(found, words) if found else None


def _of_rows(cells: Sequence[Mapping[str, Any]], document: Mapping[str, Any]) -> Level:
    found = [(own, 1) for cell in cells if (own := _told(document, *_key(cell), "all wears together"))]
    return _weighted(found, "all wears together")


def _people(document: Mapping[str, Any], site: str) -> int:
    row = site_row(dict(document), site)
    return int(row["people"]["at_least"]) if row else 0


def _weighted(found: Sequence[tuple[Level, int]], words: str) -> Level:
    weights = np.array([n for _, n in found], dtype=np.float64)
    weights /= weights.sum()

    def mean(name: str) -> float:
        return float(weights @ np.array([getattr(level, name) for level, _ in found]))

    return Level(
        location=mean("location"),
        location_sd=mean("location_sd"),
        log_variance=mean("log_variance"),
        log_variance_sd=mean("log_variance_sd"),
        mard_pct=mean("mard_pct"),
        within_15_15_pct=mean("within_15_15_pct"),
        told_of=words,
    )


def _widened(document: Mapping[str, Any], level: Level, names: Sequence[str]) -> Level:
    """A parent's level stands for a cell that may differ from it by the published spreads between cells."""
    spreads = document["model"]["spreads"]

    def sd(channel: str, own: float) -> float:
        return math.hypot(own, *(spreads[channel].get(name, {}).get("value", 0.0) for name in names))

    return Level(
        location=level.location,
        location_sd=sd("location", level.location_sd),
        log_variance=level.log_variance,
        log_variance_sd=sd("dispersion", level.log_variance_sd),
        mard_pct=level.mard_pct,
        within_15_15_pct=level.within_15_15_pct,
        told_of=level.told_of,
    )


# ---- from published studies --------------------------------------------------------------------------------------


def _starter_level(site: str, spreads: Mapping[str, Spreads], kurtosis: float) -> Level:
    found = starter.starter_level(site)
    location, dispersion = spreads["location"], spreads["dispersion"]

    def short_of(log_variance: float) -> float:
        law = Mixture(
            np.array(0.0),
            np.array(location.person**2 + location.person_cell**2 + location.wear**2),
            np.array(log_variance),
            np.array(dispersion.person**2 + dispersion.person_cell**2 + dispersion.wear**2),
            kurtosis,
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
