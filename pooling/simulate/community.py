"""An invented community: groups of people with favourite sites, their wears, and the truth behind them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from pooling.errors import InvalidInput
from pooling.simulate.law import CellTruth, Effects, Law, SensorModelPlan, draw_law
from pooling.simulate.wear import Record, WearCircumstances, draw_lost_wear, draw_wear, with_absurd_values
from pooling.units import MG_DL, MMOL_L
from pooling.vocabulary import SITES

NO_PAIRS_FRAC = 0.01
MMOL_L_FRAC = 0.4
TWO_WEARERS_FRAC = 0.05
SECOND_MODEL_FRAC = 0.15
N_FAVOURITE_SITES_SHARES = (0.45, 0.35, 0.20)

# How often a site is somebody's favourite.
SITE_SHARES: Mapping[str, float] = {
    "upper_arm.back": 0.30,
    "upper_arm.outer": 0.12,
    "forearm": 0.03,
    "chest": 0.04,
    "abdomen.front": 0.16,
    "abdomen.flank": 0.08,
    "lower_back": 0.06,
    "buttock": 0.06,
    "thigh.front": 0.06,
    "thigh.outer": 0.07,
    "calf": 0.02,
}

# Three sites stay unworn, so that the demo has cells without anybody in them.
DEMO_SITES = tuple(site for site in SITES if site not in ("forearm", "chest", "calf"))
DEMO_MODELS = (
    SensorModelPlan("demo-a14", 14, ("upper_arm.back",), share=0.5),
    SensorModelPlan("demo-b10", 10, ("upper_arm.back", "abdomen.front"), share=0.3, location=0.015, log_variance=-0.10),
    SensorModelPlan("demo-c15", 15, ("upper_arm.back",), share=0.2, location=-0.015, log_variance=0.12),
)


@dataclass(frozen=True, slots=True)
class GroupPlan:
    """A peer group to invent."""

    slug: str
    n_people: int


DEMO_GROUPS = (GroupPlan("harbour", 250), GroupPlan("orchard", 25), GroupPlan("lantern", 25))


@dataclass(frozen=True, slots=True)
class Person:
    """An account: its group and the wearers it keeps (nearly always one)."""

    person: str
    group: str
    wearers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Wearing:
    """Who wore what where, and in which slot the finished wear is uploaded."""

    person: str
    wearer: str
    group: str
    slot: int
    site: str
    sensor_model: str


@dataclass(frozen=True, slots=True)
class SimulatedWear:
    """A finished wear: whose it is, in which slot it is uploaded, and its record."""

    person: str
    wearer: str
    group: str
    slot: int
    record: Record


@dataclass(frozen=True)
class Truth:
    """Population values by site and sensor model, and by site over the models as people wear them there."""

    cells: Mapping[tuple[str, str], CellTruth]
    sites: Mapping[str, CellTruth]


@dataclass(frozen=True)
class Community:
    """An invented community with known truth."""

    people: tuple[Person, ...]
    wears: tuple[SimulatedWear, ...]
    law: Law
    truth: Truth


@dataclass(frozen=True)
class _Habits:
    """A wearer's favourite sites with their shares, and first and second sensor model."""

    sites: tuple[str, ...]
    site_shares: NDArray[np.float64]
    sensor_models: tuple[str, ...]


@dataclass
class _Deviations:
    """The deviations of wearers and of wearers at sites, each drawn once, when first met."""

    law: Law
    drawn: dict[tuple[str, ...], Effects] = field(default_factory=dict)

    def of_wear(self, rng: np.random.Generator, wearer: str, site: str) -> Effects:
        location, log_variance = self.law.location, self.law.log_variance
        person = self._once(rng, (wearer,), location.person, log_variance.person)
        person_site = self._once(rng, (wearer, site), location.person_site, log_variance.person_site)
        return person + person_site + Effects(rng.normal(0, location.wear), rng.normal(0, log_variance.wear))

    def _once(self, rng: np.random.Generator, key: tuple[str, ...], location: float, log_variance: float) -> Effects:
        if key not in self.drawn:
            self.drawn[key] = Effects(rng.normal(0, location), rng.normal(0, log_variance))
        return self.drawn[key]


def simulate_community(
    rng: np.random.Generator,
    *,
    groups: Sequence[GroupPlan] = DEMO_GROUPS,
    sites: Sequence[str] = DEMO_SITES,
    sensor_models: Sequence[SensorModelPlan] = DEMO_MODELS,
    slots: int = 3,
    wears_per_person: float = 3.0,
    law: Law | None = None,
) -> Community:
    """Invent people, their wears as wear records, and the truth behind the readings.

    Parameters
    ----------
    rng
        The only source of chance: the same state gives the same community.
    groups
        Peer groups with how many people each has.
    sites, sensor_models
        Where sensors are worn, and which.
    slots
        Wears are uploaded in slots 1 to `slots`, evenly.
    wears_per_person
        Expected wears of a person, at least 1: one, and a Poisson number more.
    law
        The law of the readings; drawn by `draw_law` if not given.

    Returns
    -------
    Community
        Wears by slot, in shuffled order within a slot.

    Raises
    ------
    InvalidInput
        For an empty list, an unknown site, a slot count or a mean number of wears below 1.
    """
    law = law or draw_law(rng, _known(sites), sensor_models)
    people = draw_people(rng, groups)
    wearings = draw_wearings(
        rng, people, sites=sites, sensor_models=sensor_models, slots=slots, wears_per_person=wears_per_person
    )
    deviations = _Deviations(law)
    unit_of = {wearer: MMOL_L if rng.random() < MMOL_L_FRAC else MG_DL for one in people for wearer in one.wearers}
    wears = tuple(_draw_wear(rng, deviations, wearing, unit_of[wearing.wearer]) for wearing in wearings)
    return Community(people, wears, law, truth_of(law, wearings))


def draw_people(rng: np.random.Generator, groups: Sequence[GroupPlan]) -> tuple[Person, ...]:
    """The people of each group; a few keep a second wearer, such as a child."""
    people = []
    for group in groups:
        for number in range(1, group.n_people + 1):
            person = f"{group.slug}-{number:04d}"
            second = (f"{person}/child",) if rng.random() < TWO_WEARERS_FRAC else ()
            people.append(Person(person, group.slug, (f"{person}/self", *second)))
    if not people:
        raise InvalidInput("a community needs at least one person")
    return tuple(people)


def draw_wearings(
    rng: np.random.Generator,
    people: Sequence[Person],
    *,
    sites: Sequence[str],
    sensor_models: Sequence[SensorModelPlan],
    slots: int,
    wears_per_person: float,
) -> tuple[Wearing, ...]:
    """Who wears what where, without readings; arguments as for `simulate_community`."""
    if slots < 1 or wears_per_person < 1 or not sensor_models:
        raise InvalidInput("a community needs a slot, a sensor model and a wear for each person at least")
    sites = _known(sites)
    wearings = []
    for person in people:
        habits = {wearer: _draw_habits(rng, sites, sensor_models) for wearer in person.wearers}
        for _ in range(1 + rng.poisson(wears_per_person - 1)):
            wearer = person.wearers[rng.integers(len(person.wearers))]
            site, model = _draw_site_and_model(rng, habits[wearer])
            slot = 1 + int(rng.integers(slots))
            wearings.append(Wearing(person.person, wearer, person.group, slot, site, model))
    order = rng.permutation(len(wearings))
    return tuple(sorted((wearings[i] for i in order), key=lambda wearing: wearing.slot))


def truth_of(law: Law, wearings: Sequence[Wearing]) -> Truth:
    """Population values; a site weighs its models by how many of these people wear each there."""
    cells = {cell: law.truth(*cell) for cell in law.cells}
    wearers = {(wearing.site, wearing.sensor_model, wearing.wearer) for wearing in wearings}
    sites = {}
    for site in sorted({site for site, _, _ in wearers}):
        worn = [cells[site, model] for worn_site, model, _ in sorted(wearers) if worn_site == site]
        sites[site] = CellTruth(
            float(np.mean([truth.mard_pct for truth in worn])), float(np.mean([truth.bias_pct for truth in worn]))
        )
    return Truth(cells, sites)


def single_wear(
    rng: np.random.Generator,
    site: str,
    sensor_model: str,
    *,
    rated_life_days: int | None = None,
    glucose_unit: str = MG_DL,
    n_pairs: int | None = None,
    absurd: bool = False,
) -> Record:
    """One wear record, for tests and for planting.

    Parameters
    ----------
    rng
        The only source of chance.
    site, sensor_model
        What the record says; any of the vocabulary's sites, any slug.
    rated_life_days
        Life of the model; by default that of the demo's model, or 14.
    glucose_unit
        As the readings are written.
    n_pairs
        How many pairs; by default as in a community.
    absurd
        With readings at the far ends of what a record may hold, the worst skin and the worst ratings: a wear whose
        trace would be seen wherever it had any influence.

    Raises
    ------
    InvalidInput
        For an unknown site or glucose unit.
    """
    lives = {model.slug: model.rated_life_days for model in DEMO_MODELS}
    plan = SensorModelPlan(sensor_model, rated_life_days or lives.get(sensor_model, 14), ())
    law = draw_law(rng, _known([site]), [plan])
    effects = _Deviations(law).of_wear(rng, "anybody", site)
    record = draw_wear(rng, law, WearCircumstances(site, sensor_model, glucose_unit, effects, n_pairs=n_pairs))
    return with_absurd_values(record) if absurd else record


def _draw_wear(rng: np.random.Generator, deviations: _Deviations, wearing: Wearing, unit: str) -> SimulatedWear:
    circumstances = WearCircumstances(
        wearing.site,
        wearing.sensor_model,
        unit,
        deviations.of_wear(rng, wearing.wearer, wearing.site),
        rated_by="carer" if wearing.wearer.endswith("/child") else "self",
    )
    if rng.random() < NO_PAIRS_FRAC:
        record = draw_lost_wear(rng, circumstances)
    else:
        record = draw_wear(rng, deviations.law, circumstances)
    return SimulatedWear(wearing.person, wearing.wearer, wearing.group, wearing.slot, record)


def _draw_habits(rng: np.random.Generator, sites: Sequence[str], sensor_models: Sequence[SensorModelPlan]) -> _Habits:
    popularity = np.array([SITE_SHARES[site] for site in sites])
    n_sites = min(len(sites), 1 + int(rng.choice(3, p=N_FAVOURITE_SITES_SHARES)))
    favourites = rng.choice(len(sites), size=n_sites, replace=False, p=popularity / popularity.sum())
    shares = np.array([model.share for model in sensor_models])
    models = rng.choice(len(sensor_models), size=min(2, len(sensor_models)), replace=False, p=shares / shares.sum())
    return _Habits(
        sites=tuple(sites[i] for i in favourites),
        site_shares=rng.dirichlet(np.full(n_sites, 1.5)),
        sensor_models=tuple(sensor_models[i].slug for i in models),
    )


def _draw_site_and_model(rng: np.random.Generator, habits: _Habits) -> tuple[str, str]:
    site = habits.sites[rng.choice(len(habits.sites), p=habits.site_shares)]
    second = len(habits.sensor_models) > 1 and rng.random() < SECOND_MODEL_FRAC
    return site, habits.sensor_models[1 if second else 0]


def _known(sites: Sequence[str]) -> Sequence[str]:
    unknown = [site for site in sites if site not in SITES]
    if unknown or not sites:
        raise InvalidInput(f"sites must be some of the vocabulary's, not {list(unknown)}")
    return sites
