"""The invented community: who is in it, and whether its readings carry the truth it states."""

import json
from collections import Counter, defaultdict

import numpy as np
import pytest

from pooling.errors import InvalidInput
from pooling.record import parse_record
from pooling.simulate.community import (
    DEMO_MODELS,
    DEMO_SITES,
    Community,
    GroupPlan,
    Record,
    simulate_community,
    single_wear,
)
from pooling.vocabulary import SITES


def small_community(seed: int = 1) -> Community:
    return simulate_community(
        np.random.default_rng(seed), groups=[GroupPlan("harbour", 60), GroupPlan("orchard", 10)], slots=3
    )


def relative_deviations(record: Record) -> np.ndarray:
    pairs = [(pair["sensor"], pair["reference"]) for pair in record["pairs"] if pair["sensor"] is not None]
    sensor, reference = np.array(pairs, dtype=float).T
    return sensor / reference - 1


def test_the_same_generator_gives_the_same_community():
    first, second = (json.dumps([wear.record for wear in small_community().wears]) for _ in range(2))
    assert first == second
    assert first != json.dumps([wear.record for wear in small_community(seed=2).wears])


def test_people_groups_wearers_and_slots():
    community = small_community()
    assert Counter(person.group for person in community.people) == {"harbour": 60, "orchard": 10}
    group_of = {person.person: person.group for person in community.people}
    wearers_of = {person.person: person.wearers for person in community.people}
    for wear in community.wears:
        assert wear.group == group_of[wear.person]
        assert wear.wearer in wearers_of[wear.person]
    slots = [wear.slot for wear in community.wears]
    assert slots == sorted(slots)
    assert set(slots) == {1, 2, 3}
    assert {wear.person for wear in community.wears} == set(group_of)
    assert len(community.wears) / 70 == pytest.approx(3, abs=4 * np.sqrt(2 / 70))


def test_some_accounts_keep_two_wearers_and_both_units_are_used():
    community = simulate_community(np.random.default_rng(3), groups=[GroupPlan("harbour", 150)], slots=1)
    assert 0 < sum(len(person.wearers) == 2 for person in community.people) < 25
    units = defaultdict(set)
    for wear in community.wears:
        units[wear.wearer].add(wear.record["glucose_unit"])
    assert Counter(unit for (unit,) in units.values()).keys() == {"mg/dL", "mmol/L"}
    assert {w.record["ratings"]["rated_by"] for w in community.wears if w.wearer.endswith("/child")} == {"carer"}


def test_the_demo_leaves_three_sites_unworn():
    assert set(SITES) - set(DEMO_SITES) == {"forearm", "chest", "calf"}
    community = small_community()
    assert {wear.record["site"] for wear in community.wears} <= set(DEMO_SITES)
    assert set(community.truth.cells) == {(site, model.slug) for site in DEMO_SITES for model in DEMO_MODELS}


def test_the_wears_of_a_cell_show_the_cells_truth():
    """1,500 people with one wear each; the mean over wears of their MARD and bias, within Monte-Carlo error.

    The error of the mean is about 0.08 points of MARD, so the tolerance is a third of a point.
    """
    model = DEMO_MODELS[1]
    community = simulate_community(
        np.random.default_rng(4),
        groups=[GroupPlan("harbour", 1500)],
        sites=["abdomen.front"],
        sensor_models=[model],
        wears_per_person=1,
    )
    deviations = [relative_deviations(wear.record) for wear in community.wears if wear.record["pairs"]]
    mard_pct = np.array([100 * np.abs(deviation).mean() for deviation in deviations])
    bias_pct = np.array([100 * deviation.mean() for deviation in deviations])
    truth = community.truth.cells["abdomen.front", model.slug]
    assert mard_pct.mean() == pytest.approx(truth.mard_pct, abs=4 * mard_pct.std() / np.sqrt(mard_pct.size))
    assert bias_pct.mean() == pytest.approx(truth.bias_pct, abs=4 * bias_pct.std() / np.sqrt(bias_pct.size))
    assert community.truth.sites["abdomen.front"].mard_pct == pytest.approx(truth.mard_pct)
    assert 2.4 < mard_pct.std() < 4.0


def test_wears_of_one_wearer_resemble_each_other_as_the_law_says():
    """Covariance of the mean log ratio of two wears at one site: 0.04 squared plus 0.02 squared."""
    community = simulate_community(
        np.random.default_rng(5),
        groups=[GroupPlan("harbour", 300)],
        sites=["buttock"],
        sensor_models=[DEMO_MODELS[0]],
        wears_per_person=4,
    )
    means = defaultdict(list)
    for wear in community.wears:
        if wear.record["pairs"]:
            means[wear.wearer].append(np.log1p(relative_deviations(wear.record)).mean())
    pairs = np.array([values[:2] for values in means.values() if len(values) > 1])
    products = (pairs[:, 0] - pairs.mean()) * (pairs[:, 1] - pairs.mean())
    assert products.mean() == pytest.approx(0.04**2 + 0.02**2, abs=4 * products.std() / np.sqrt(len(pairs)))
    assert products.mean() > 4 * products.std() / np.sqrt(len(pairs))


def test_a_sites_truth_weighs_models_by_who_wears_them():
    community = small_community()
    wearers = defaultdict(set)
    for wear in community.wears:
        wearers[wear.record["site"], wear.record["sensor_model"]].add(wear.wearer)
    for site, truth in community.truth.sites.items():
        weights = {cell: len(people) for cell, people in wearers.items() if cell[0] == site}
        weighted = sum(n * community.truth.cells[cell].mard_pct for cell, n in weights.items()) / sum(weights.values())
        assert truth.mard_pct == pytest.approx(weighted)


def test_every_record_is_a_valid_one():
    rng = np.random.default_rng(10)
    planted = [
        single_wear(rng, site, "demo-b10", glucose_unit=unit, absurd=absurd)
        for site in SITES
        for unit in ("mg/dL", "mmol/L")
        for absurd in (False, True)
    ]
    records = [wear.record for wear in small_community().wears] + planted
    for record in records:
        parsed = parse_record(json.dumps(record).encode())
        assert len(parsed.pairs) == len(record["pairs"])


def test_one_wear_by_itself():
    record = single_wear(np.random.default_rng(6), "calf", "demo-c15", glucose_unit="mmol/L", n_pairs=25)
    assert (record["site"], record["sensor_model"], len(record["pairs"])) == ("calf", "demo-c15", 25)
    assert record["worn_min"] <= 15 * 1440
    assert json.loads(json.dumps(record)) == record


def test_an_absurd_wear_stands_far_outside_everything():
    record = single_wear(np.random.default_rng(7), "calf", "demo-c15", absurd=True)
    assert relative_deviations(record).min() > 10


@pytest.mark.parametrize(
    "changes",
    [
        {"sites": []},
        {"sites": ["elbow"]},
        {"sensor_models": []},
        {"slots": 0},
        {"wears_per_person": 0.5},
        {"groups": []},
    ],
)
def test_a_senseless_community_is_refused(changes):
    with pytest.raises(InvalidInput):
        simulate_community(np.random.default_rng(8), **changes)


def test_an_unknown_site_is_refused_for_one_wear_too():
    with pytest.raises(InvalidInput):
        single_wear(np.random.default_rng(9), "elbow", "demo-a14")
