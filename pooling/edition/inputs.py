"""What an edition is made from: a pooled fit, seen through the few attributes read here, and the facts around it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal, Protocol

from pooling.errors import InvalidInput
from pooling.protection import FLOOR_PEOPLE, Estimate


class CellFit(Protocol):
    """The model's answer for one site (or region, or "other"), of one sensor model or over all models (None).

    Percentages run from 0 to 100. `n_people` may be a lower bound. `location` is the median log ratio of sensor to
    reference, `log_variance` the log of a wear's variance around it, and `reading_sd_log` the standard deviation of the
    normal law that holds the same central 80 % as one reading's log ratio of a new wearer's new wear.
    `people_range_pct` holds the MARD of 80 % of people.
    """

    @property
    def place(self) -> str: ...
    @property
    def sensor_model(self) -> str | None: ...
    @property
    def n_people(self) -> int: ...
    @property
    def n_wears(self) -> int: ...
    @property
    def n_pairs(self) -> int: ...
    @property
    def mard_pct(self) -> Estimate: ...
    @property
    def bias_pct(self) -> Estimate: ...
    @property
    def within_15_15_pct(self) -> Estimate: ...
    @property
    def within_20_20_pct(self) -> Estimate: ...
    @property
    def people_range_pct(self) -> tuple[float, float]: ...
    @property
    def location(self) -> float: ...
    @property
    def log_variance(self) -> float: ...
    @property
    def reading_sd_log(self) -> float: ...


class Contrast(Protocol):
    """Expected MARD of `a` minus that of `b`, each a place and a sensor model, and how probably `a` is the smaller.

    `tied` says that it is estimated within people who wore both; `overall` gives the means of all wearers more say.
    """

    @property
    def a(self) -> tuple[str, str | None]: ...
    @property
    def b(self) -> tuple[str, str | None]: ...
    @property
    def difference_mard_points(self) -> Estimate: ...
    @property
    def p_a_better_frac(self) -> float: ...
    @property
    def tied(self) -> bool: ...
    @property
    def overall_mard_points(self) -> Estimate: ...


class PooledFit(Protocol):
    """Everything a fit hands over. `spreads` go by channel and name; one number each is published, as of `kurtosis`."""

    @property
    def cells(self) -> Sequence[CellFit]: ...
    @property
    def sites(self) -> Sequence[CellFit]: ...
    @property
    def contrasts(self) -> Sequence[Contrast]: ...
    @property
    def spreads(self) -> Mapping[str, Mapping[str, Estimate]]: ...
    @property
    def kurtosis(self) -> float: ...


@dataclass(frozen=True, slots=True)
class EmptyFit:
    """What stands in for a fit while nothing has been sealed yet."""

    cells: tuple[CellFit, ...] = ()
    sites: tuple[CellFit, ...] = ()
    contrasts: tuple[Contrast, ...] = ()
    spreads: Mapping[str, Mapping[str, Estimate]] = field(default_factory=dict)
    kurtosis: float = 0.0


@dataclass(frozen=True, slots=True)
class SensorModelFacts:
    """A catalogue entry as it concerns one group: the sites licensed for all of the group's wearers."""

    rated_life_days: int
    licensed_sites: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class EditionContext:
    """Whose edition this is, by which rules, and what the auditor said.

    `cut_off` and `next_cut_off` are ISO dates. `environment` comes from `environment_fingerprint()` of the process that
    fitted. `n_audited_records` counts everything ever sealed that the auditor looked at.
    """

    group_slug: str
    group_name: str
    group_kind: Literal["group", "everyone"]
    wearers: Literal["adult", "child", "mixed"]
    number: int
    cut_off: str
    next_cut_off: str
    protocol_version: int
    fit_version: int
    seal_version: int
    k: int
    feeds_everyone: bool
    environment: str
    audit_passed: bool
    n_audited_records: int
    sensor_models: Mapping[str, SensorModelFacts] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.k < FLOOR_PEOPLE:
            raise InvalidInput(f"no edition may use a threshold under {FLOOR_PEOPLE} people")
