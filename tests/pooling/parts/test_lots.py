"""What wears by lot show against chosen ones: where choosing follows accuracy, and where it does not."""

from dataclasses import replace
from statistics import fmean

import numpy as np
import pytest

from pooling.hierarchy import FitRules, fit
from pooling.hierarchy.pool import count, holding
from pooling.parts.lots import lot_rows, spread_of
from pooling.sealing.lots import LOT
from tests.calibration import lots as world

RULES = FitRules(draws=300)


@pytest.fixture(scope="module")
def confounded():
    """People twice as choosy as in the calibration, and many of them: what choosing does stands out."""
    own = world.World(np.random.default_rng(5), 2.0)
    records = own.sealed(450)
    return own.differences_points(), records, fit(records, RULES, np.random.default_rng(0))


def told(records, fitted):
    merged = records.merged()
    return lot_rows(merged, fitted, RULES, np.random.default_rng(1), count(holding(merged, "direct")))


def test_limits_hold_what_choosing_does_and_point_its_way(confounded):
    truth, records, fitted = confounded
    everywhere, *sites = told(records, fitted)
    assert everywhere.place is None
    assert [row.place for row in sites] == [world.place_name(cell) for cell in range(world.N_CELLS)]
    for row, true in zip(sites, truth, strict=True):
        assert row.lot_less_chosen_points.lower < true < row.lot_less_chosen_points.upper
    medians = [row.lot_less_chosen_points.median for row in sites]
    assert np.corrcoef(medians, truth)[0, 1] > 0.5


def test_all_sites_together_lie_within_the_sites_and_are_surer(confounded):
    _, records, fitted = confounded
    everywhere, *sites = told(records, fitted)
    medians = [row.lot_less_chosen_points.median for row in sites]
    assert min(medians) < everywhere.lot_less_chosen_points.median < max(medians)

    def width(row):
        return row.lot_less_chosen_points.upper - row.lot_less_chosen_points.lower

    assert width(everywhere) < fmean(width(row) for row in sites)
    assert max(row.n_people for row in (everywhere, *sites)) <= 450


def test_one_site_alone_has_no_row_for_all_sites(confounded):
    _, records, fitted = confounded
    first = records.parts[0].place
    one = replace(records, parts=tuple(record for record in records.parts if record.place == first))
    assert [row.place for row in told(one, fitted)] == [first]


def test_a_side_within_its_noise_is_not_told(confounded):
    """Weights alone decide: the same record with noise of weights as large as the weight."""
    _, records, fitted = confounded
    (record,) = records.parts[:1]
    name = f"{LOT}.direct"
    first, weight, mask, _ = record.sums[name]
    version = RULES.versions[record.seal_version]
    loud = replace(
        record, sums={**record.sums, name: (first, weight, mask, version.to_grid(version.from_grid(weight) ** 2))}
    )
    assert told(replace(records, parts=(record,)), fitted)
    assert told(replace(records, parts=(loud,)), fitted) == ()


def test_without_sums_by_lot_there_is_nothing(confounded):
    _, records, fitted = confounded
    assert told(replace(records, parts=()), fitted) == ()


def test_wearers_differ_as_the_fit_finds_them(confounded):
    """The excess is the fit's variance of a wear's mean over the assumed one: twice the spread, more excess."""
    _, records, fitted = confounded
    (excess,) = spread_of(records, fitted, RULES).excess.values()
    wider = {**fitted.spreads, "direct": {**fitted.spreads["direct"]}}
    people = fitted.spreads["direct"]["people"]
    wider["direct"]["people"] = replace(people, median=2 * people.median)
    (more,) = spread_of(records, replace(fitted, spreads=wider), RULES).excess.values()
    assert 0.3 < excess < more


@pytest.mark.parametrize("confounding", [0.0, 1.0])
def test_a_slice_of_the_calibration(confounding):
    """Four pools of four sites: `python -m tests.calibration --outcome lots` has more, this sees broken limits."""
    scores = world.run(4, 21, (120, 160), confounding, RULES)
    assert {name: len(score.hits) for name, score in scores.items()} == {"at a site": 4, "all sites together": 4}
    assert scores["at a site"].coverage()[0] >= 0.8
    assert np.mean([(part**2).mean() for part in scores["at a site"].errors]) < 1.0
