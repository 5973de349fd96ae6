"""Figures of published studies, for the time before an edition tells anything. Every answer that uses them says so.

Studies differ in sensors, people and reference, far more than sites within one study do; a figure here is a first guess
with wide limits and no verdict on any sensor. Values were read in abstracts and tables of the papers named; where a
part of the citation is from memory, it says so.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean
from types import MappingProxyType
from typing import Literal

UNSTUDIED_FACTOR = 1.5
"""How much wider the limits are at a site of which no study was found: our choice, no source."""
LOCATION_SD_LOG = 0.05
"""How far the median reading of a sensor model may lie off, up or down: our choice, no source."""
SITE_LOCATION_SD_LOG = 0.03
"""How far that of a site may lie off the mean of all sites: our choice, no source."""


@dataclass(frozen=True, slots=True)
class Study:
    """One published comparison with fingersticks or laboratory values: people, and MARD in per cent by site."""

    cite: str
    n_people: int
    reference: Literal["fingerstick", "laboratory"]
    mard_pct: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class StarterLevel:
    """What studies say of a site, and how far log MARD there may lie off beside what a sensor has of its own."""

    mard_pct: float
    sd_log: float
    cites: tuple[str, ...]
    studied: bool


@dataclass(frozen=True, slots=True)
class Spreads:
    """Standard deviations of one channel: between people, between a person's sites, between wears at one site."""

    person: float
    person_cell: float
    wear: float


_ARM, _ABDOMEN, _THIGH, _BUTTOCK = "upper_arm.back", "abdomen.front", "thigh.front", "buttock"

STUDIES: tuple[Study, ...] = (
    Study(
        "Diabetes Obes Metab 2018;20:1503-1507 (abstract; first author Charleer, from memory)",
        23,
        "fingerstick",
        {_ARM: 11.8, _THIGH: 12.3, _ABDOMEN: 18.5},
    ),
    Study("Garg et al., Diabetes Technol Ther 2022;24:373-380", 316, "laboratory", {_ARM: 8.2, _ABDOMEN: 9.1}),
    Study("J Diabetes Sci Technol 2022, doi 10.1177/19322968221091816", 127, "laboratory", {_ARM: 8.1, _ABDOMEN: 9.0}),
    Study("Steineck et al., Diabetes Technol Ther 2019;21(5)", 14, "fingerstick", {_ARM: 12.0, _ABDOMEN: 12.5}),
    Study(
        "Faccioli et al., J Diabetes Sci Technol 2017;11:1147-1154",
        30,
        "fingerstick",
        {_ARM: 13.4, _ABDOMEN: 13.3, _BUTTOCK: 12.9},
    ),
    Study("J Diabetes Sci Technol 2011 (PMID 21527106)", 61, "laboratory", {_ABDOMEN: 17.1, _BUTTOCK: 16.5}),
    Study("Diabetes Technol Ther 2015;17:787 (first author Bailey, from memory)", 72, "fingerstick", {_ARM: 11.4}),
)

# Spreads of location are in log units, those of dispersion in units of log variance. They give single sensors a
# standard deviation of MARD of 2.2 to 2.6 points where MARD is 8 to 11; J Diabetes Sci Technol 2022;16:649 found 2.4 to
# 3.6, the chance of few fingersticks included.
SPREADS: Mapping[str, Spreads] = MappingProxyType(
    {"location": Spreads(0.04, 0.02, 0.03), "dispersion": Spreads(0.35, 0.15, 0.25)}
)
SPREADS_CITE = "J Diabetes Sci Technol 2022;16:649 (spread between sensors; its split over people and wears is ours)"

# Excess kurtosis of log ratios: fingersticks and sensors miss by much more often than a normal law would have it.
KURTOSIS = 2.0


def between_sensors_sd_log() -> float:
    """How far log MARD of one site differs between studies, pooled over sites: what differs is mostly the sensor.

    Examples
    --------
    >>> round(between_sensors_sd_log(), 2)
    0.26
    """
    return _within_sd(_log_mard_by_site().values())


def between_sites_sd_log() -> float:
    """How far log MARD of one study differs between its sites, pooled over studies: same people, same sensor.

    Examples
    --------
    >>> round(between_sites_sd_log(), 2)
    0.13
    """
    return _within_sd([[math.log(mard_pct) for mard_pct in study.mard_pct.values()] for study in STUDIES])


def sensor_variance() -> dict[str, float]:
    """By channel, how far the level of a sensor of which nothing is known may lie off, as a variance.

    Log variance is twice log MARD, since MARD goes with the root of a variance.

    Examples
    --------
    >>> {name: round(variance**0.5, 2) for name, variance in sensor_variance().items()}
    {'location': 0.05, 'dispersion': 0.51}
    """
    return {"location": LOCATION_SD_LOG**2, "dispersion": (2 * between_sensors_sd_log()) ** 2}


def site_variance() -> dict[str, float]:
    """By channel, how far the level of a site of which nothing is known may lie off the mean of all sites.

    Examples
    --------
    >>> {name: round(variance**0.5, 2) for name, variance in site_variance().items()}
    {'location': 0.03, 'dispersion': 0.26}
    """
    return {"location": SITE_LOCATION_SD_LOG**2, "dispersion": (2 * between_sites_sd_log()) ** 2}


def starter_level(site: str) -> StarterLevel:
    """What the studies say of a site; of a site that none names, what they say of all sites, with wider limits.

    Notes
    -----
    The middle is the mean of log MARD over studies, each counted once: more people in one study do not tell of another
    sensor.

    Examples
    --------
    >>> level = starter_level("upper_arm.back")
    >>> round(level.mard_pct, 1), round(level.sd_log, 2), level.studied
    (10.6, 0.1, True)
    """
    by_site, spread = _log_mard_by_site(), between_sensors_sd_log()
    studied = site in by_site
    values = by_site[site] if studied else [value for values in by_site.values() for value in values]
    factor = 1.0 if studied else UNSTUDIED_FACTOR
    return StarterLevel(
        mard_pct=math.exp(fmean(values)),
        sd_log=spread * math.sqrt(factor**2 * (1 + 1 / len(values)) - 1),
        cites=tuple(study.cite for study in STUDIES if site in study.mard_pct or not studied),
        studied=studied,
    )


def _within_sd(groups: Iterable[Sequence[float]]) -> float:
    """Standard deviation of values about the means of their groups."""
    groups = tuple(groups)
    squares = sum((value - fmean(values)) ** 2 for values in groups for value in values)
    return math.sqrt(squares / sum(len(values) - 1 for values in groups))


def _log_mard_by_site() -> dict[str, list[float]]:
    found: dict[str, list[float]] = {}
    for study in STUDIES:
        for site, mard_pct in study.mard_pct.items():
            found.setdefault(site, []).append(math.log(mard_pct))
    return found
