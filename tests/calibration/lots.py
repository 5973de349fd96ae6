"""How often intervals of wears by lot less chosen ones hold the truth, where people choose sites by accuracy or not."""

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import RegularGridInterpolator

from pooling.crossing import cell_of, crossed
from pooling.hierarchy import FitRules, fit
from pooling.ledger import plan_lots, plan_ties
from pooling.parts import LotRow, estimate
from pooling.sealing import SEAL_VERSION_1, Cell, Member, SealedRecords, seal_slot
from pooling.stratum import errors_of
from tests.calibration.parts import LOW, MODEL, Summary
from tests.calibration.pools import TAIL, TAIL_SD, Floats, Stratum, Truth, place_name
from tests.calibration.score import Score

N_SLOTS, N_CELLS, K = 3, 4, 5
N_TRUTH = 20_000
TWO_CELLS = 1 / 3
"""Share of people who wear at two cells a cut-off."""
LOCATION_PULL, SPREAD_PULL = 0.7, 1.5
"""How strongly people choose by how their readings run and spread, as in `tests.calibration.pools`."""

Blocks = list[tuple[Cell, list[Member]]]


class World:
    """People who choose sites, and a lot that sends some of them somewhere; the truth is worked out from many more."""

    def __init__(self, rng: np.random.Generator, confounding: float) -> None:
        self.truth, self.rng, self.confounding = Truth.drawn(N_CELLS, rng), rng, confounding
        self.slope = np.linspace(-1, 1, N_CELLS)
        self.seen: list[tuple[str, Member]] = []

    def people(self, n: int) -> tuple[Floats, Floats, Floats]:
        """Location and log spread of each, and the chances with which each chooses a cell."""
        (ta, *_), (ou, *_) = self.truth.location_sds, self.truth.spread_sds
        location, spread = self.rng.normal(0, ta, n), self.rng.normal(0, ou, n)
        pull = self.confounding * (SPREAD_PULL * spread / ou - LOCATION_PULL * location / ta)
        odds = np.exp(pull[:, None] * self.slope)
        return location, spread, odds / odds.sum(axis=1, keepdims=True)

    def differences_points(self) -> Floats:
        """By cell, expected MARD of people sent there less that of people who choose it: a mean weighed by chances."""
        location, spread, first = self.people(N_TRUTH)
        second = first * ((first / (1 - first)).sum(axis=1, keepdims=True) - first / (1 - first))
        there = first + TWO_CELLS * second
        mard = self._mard_of()
        found = []
        for cell in range(N_CELLS):
            own = mard(np.stack([self.truth.location[cell] + location, self.truth.log_variance[cell] + spread], axis=1))
            found.append(100 * (own.mean() - np.average(own, weights=there[:, cell])))
        return np.array(found)

    def _mard_of(self) -> RegularGridInterpolator:
        """Expected MARD of a person's wears, by own location and log variance: quadrature on a grid."""
        (_, tb, tc), (_, ov, ot) = self.truth.location_sds, self.truth.spread_sds
        locations = np.linspace(-0.7, 0.7, 36)
        log_variances = self.truth.log_variance.mean() + np.linspace(-6, 6, 37)
        rows = [
            Truth(locations, np.full(locations.size, own), (0.0, tb, tc), (0.0, ov, ot)).mard() for own in log_variances
        ]
        return RegularGridInterpolator((locations, log_variances), np.array(rows).T, method="cubic")

    def member(self, name: str, cell: int, location: float, spread: float, *, by_lot: bool) -> Member:
        """One wear; levels at the cell are drawn anew for each, since nobody is here twice at one cell and cut-off."""
        (_, tb, tc), (_, ov, ot) = self.truth.location_sds, self.truth.spread_sds
        n = int(np.clip(np.exp(self.rng.normal(3.4, 0.5)), 12, 120))
        sd = np.exp(0.5 * (self.truth.log_variance[cell] + spread + self.rng.normal(0, np.hypot(ov, ot))))
        centre = self.truth.location[cell] + location + self.rng.normal(0, np.hypot(tb, tc))
        log_ratios = centre + sd * np.clip(self.rng.standard_t(TAIL, n), -7, 7) / TAIL_SD
        reference = np.full(n, 140.0)
        sensor = reference * np.exp(log_ratios)
        where = cell_of(self.rng.integers(0, 3, n), np.ones(n, dtype=int), self.rng.integers(0, 2, n))
        table = crossed(
            errors_of(reference, sensor), numbered=np.ones(n, dtype=bool), cell=where, shown_low=sensor < LOW
        )
        return Member(name, f"account of {name}", Summary({"all": Stratum.of(log_ratios)}, table), by_lot=by_lot)

    def blocks(self, everybody: tuple[Floats, Floats, Floats]) -> Blocks:
        """One cut-off: half of the people wear where a lot sends them, half where they choose; a third at two cells."""
        at: dict[int, list[Member]] = {cell: [] for cell in range(N_CELLS)}
        for number, (location, spread, chances) in enumerate(zip(*everybody, strict=True)):
            by_lot = bool(self.rng.random() < 0.5)
            odds = np.full(N_CELLS, 1 / N_CELLS) if by_lot else chances
            for cell in self.rng.choice(N_CELLS, 1 + int(self.rng.random() < TWO_CELLS), replace=False, p=odds):
                at[int(cell)].append(self.member(f"p{number:04d}", int(cell), location, spread, by_lot=by_lot))
        return [
            (Cell("everyone", place_name(cell), MODEL), own)
            for cell, own in at.items()
            if len({one.account for one in own}) >= K
        ]

    def plain_points(self, place: str) -> float:
        """Mean MARD of single wears by lot at a place less that of chosen ones, which nobody but their owners has."""
        strata = {
            side: [own.summary.strata["all"] for at, own in self.seen if at == place and own.by_lot is side]
            for side in (True, False)
        }
        by_lot, chosen = (np.mean([one.a1 / one.n_pairs for one in strata[side]]) for side in (True, False))
        return 100 * float(by_lot - chosen)

    def sealed(self, n_people: int) -> SealedRecords:
        """All cut-offs of one pool, as the product plans and seals them."""
        everybody = self.people(n_people)
        records, places = SealedRecords(), ()
        for _ in range(N_SLOTS):
            blocks = self.blocks(everybody)
            self.seen += [(cell.place, one) for cell, own in blocks for one in own]
            ties = _ties(blocks)
            linkers = frozenset(linker for tie in ties for linker in tie.linkers)
            wears = {cell: [(one.account, one.person, one.by_lot) for one in own] for cell, own in blocks}
            sealed = seal_slot(
                blocks,
                ties=ties,
                lots=plan_lots(wears, K, linkers=linkers),
                open_places=places,
                end_bucket=4,
                version=SEAL_VERSION_1,
                key=self.rng.bytes(32),
                k=K,
            )
            records, places = records + sealed.records, (*places, *sealed.places)
        return records.merged()


def _ties(blocks: Blocks) -> tuple[object, ...]:
    cells_of: dict[str, set[Cell]] = {}
    for cell, members in blocks:
        for one in members:
            cells_of.setdefault(one.person, set()).add(cell)
    return plan_ties(cells_of, K)


@dataclass(frozen=True)
class Figure:
    """What a pool tells of a place (None: of all), what is true there, and the plain difference of all single wears."""

    row: LotRow
    truth: float
    plain: float


def figures(rng: np.random.Generator, people: tuple[int, int], confounding: float, rules: FitRules) -> list[Figure]:
    """All that one pool tells. For all places together, truth and plain figure are means by the rows' people."""
    world = World(rng, confounding)
    records = world.sealed(int(rng.integers(people[0], people[1] + 1)))
    rows = estimate(records, fit(records, rules, rng), rules, rng, rated_life_days={MODEL: 14}).lots
    truth = {place_name(cell): float(own) for cell, own in enumerate(world.differences_points())}
    plain = {place: world.plain_points(place) for place in truth}
    sites = [row for row in rows if row.place is not None]

    def of(row: LotRow, numbers: dict[str, float]) -> float:
        if row.place is not None:
            return numbers[row.place]
        return float(np.average([numbers[site.place] for site in sites], weights=[site.n_people for site in sites]))

    return [Figure(row, of(row, truth), of(row, plain)) for row in rows]


def run(n_pools: int, seed: int, people: tuple[int, int], confounding: float, rules: FitRules) -> dict[str, Score]:
    """Simulate, seal, estimate and score pools."""
    scores = {"at a site": Score.empty(), "all sites together": Score.empty()}
    for index in range(n_pools):
        found = figures(np.random.default_rng([seed, index]), people, confounding, rules)
        for name, is_site in (("at a site", True), ("all sites together", False)):
            if own := [one for one in found if (one.row.place is not None) is is_site]:
                estimates = [one.row.lot_less_chosen_points for one in own]
                scores[name].add(estimates, np.array([one.truth for one in own]), np.array([one.plain for one in own]))
    return scores
