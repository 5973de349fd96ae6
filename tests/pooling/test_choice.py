"""Weighing sites: against the normal formula, against the draws a document was made from, and under changed weights."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from scipy.special import ndtr
from scipy.stats import qmc

from pooling.choice import (
    CRITERIA,
    NOTE_BOUNDS,
    NOTE_FEW_AHEAD,
    NOTE_LEFT_OUT,
    NOTE_NOTHING,
    choose,
    normalised,
)
from pooling.edition import assemble
from pooling.errors import InvalidInput
from pooling.vocabulary import SITES
from tests.pooling.conftest import Contrast, Estimate, Fit, make_cell, make_context

Z_95 = 1.959963984540054  # the 97.5 % point of the standard normal law (handbook tables: 1.96)


def rng() -> np.random.Generator:
    return np.random.default_rng(20310301)


def figure(value: float, half: float) -> dict[str, float]:
    return {"value": value, "lower": value - half, "upper": value + half}


def paper(mard=None, contrasts=(), **figures) -> dict:
    """A document of made-up rows: by criterion and site a figure."""
    tables: dict[str, list[dict]] = {name: [] for name in ("sites", "sites_by_model", "survival", "skin", "ratings")}
    for name, rows in {"accuracy": mard or {}, **figures}.items():
        criterion = CRITERIA[name]
        for site, own in rows.items():
            row = {"site": site, "sensor_model": None, criterion.figure: own}
            tables[criterion.table].append(row | ({"rating": criterion.rating} if criterion.rating else {}))
    tables["contrasts"] = [
        {"site_a": a, "site_b": b, "sensor_model": None, "difference_points": own} for (a, b), own in contrasts
    ]
    return {"tables": tables}


def chances(choice) -> dict[str, float]:
    return {chance.site: chance.p_best_frac for chance in choice.sites}


@pytest.mark.parametrize(("gap", "half_a", "half_b"), [(0.0, 1.0, 1.0), (1.0, 1.2, 0.8), (2.5, 2.0, 2.0)])
def test_two_sites_and_one_criterion_follow_the_normal_formula(gap, half_a, half_b):
    """P(A < B) = Phi((b - a) / sqrt(sd_a^2 + sd_b^2)) for independent normal A and B (any handbook of probability)."""
    document = paper({"calf": figure(10.0, half_a), "chest": figure(10.0 + gap, half_b)})
    expected = ndtr(gap * Z_95 / np.hypot(half_a, half_b))
    found = chances(choose(document, {"accuracy": 1}, rng()))
    # Four standard errors of 20,000 draws, and half a point of rounding.
    assert found["calf"] == pytest.approx(expected, abs=4 * 0.5 / 20_000**0.5 + 0.005)


def test_a_published_contrast_says_how_sure_the_difference_is():
    """The error that two sites share cancels: with it the difference is as sure as the contrast, not as the sites."""
    sites = {"calf": figure(10.0, 2.0), "chest": figure(11.0, 2.0)}
    sure = paper(sites, [(("chest", "calf"), figure(1.0, 0.6))])
    assert chances(choose(paper(sites), {"accuracy": 1}, rng()))["calf"] == pytest.approx(
        ndtr(Z_95 / np.hypot(2, 2)), abs=0.02
    )
    assert chances(choose(sure, {"accuracy": 1}, rng()))["calf"] == pytest.approx(ndtr(Z_95 / 0.6), abs=0.01)


def test_three_sites_against_the_draws_that_the_document_was_made_from():
    """A real document, rounding and all: chances of best and worst from 65,536 draws of a law with shared errors."""
    places, people, middle = ("calf", "chest", "forearm"), 120, np.array([10.0, 10.5, 11.1])
    covariance = 0.25 + np.diag([0.10, 0.20, 0.30])
    draws = qmc.MultivariateNormalQMC(middle, covariance, seed=np.random.default_rng(3)).random(2**16)

    def of(values):
        lower, median, upper = np.quantile(values, (0.025, 0.5, 0.975))
        return Estimate(float(median), float(lower), float(upper))

    cells = [replace(make_cell(place, n_people=people), mard_pct=of(draws[:, i])) for i, place in enumerate(places)]
    pairs = [
        Contrast(
            (places[a], None),
            (places[b], None),
            of(draws[:, a] - draws[:, b]),
            float((draws[:, a] < draws[:, b]).mean()),
            True,
            of(draws[:, a] - draws[:, b]),
        )
        for a, b in combinations(range(3), 2)
    ]
    choice = choose(assemble(Fit(sites=tuple(cells), contrasts=tuple(pairs)), make_context()), {"accuracy": 1}, rng())
    first, last = draws.argmin(axis=1), draws.argmax(axis=1)
    for chance in choice.sites:
        index = places.index(chance.site)
        assert chance.p_best_frac == pytest.approx((first == index).mean(), abs=0.03)
        assert chance.p_worst_frac == pytest.approx((last == index).mean(), abs=0.03)
        place = 1 + (draws < draws[:, [index]]).sum(axis=1)
        assert abs(chance.place_from - np.quantile(place, 0.1)) <= 1
        assert abs(chance.place_to - np.quantile(place, 0.9)) <= 1


def test_only_the_proportions_of_weights_count(document):
    weights = {"accuracy": 3, "stays_on": 2, "comfort": 1}
    once = choose(document, weights, rng())
    for factor in (0.001, 2, 64, 1e9):
        assert choose(document, {name: factor * weight for name, weight in weights.items()}, rng()).sites == once.sites
    assert choose(document, weights | {"skin": 0}, rng()).sites == once.sites


def test_the_order_in_which_weights_are_named_does_not_matter(document):
    weights = {"comfort": 1, "accuracy": 3}
    assert choose(document, weights, rng()) == choose(document, dict(reversed(weights.items())), rng())


def test_a_site_that_is_worse_in_everything_never_leads_for_any_weights():
    document = paper(
        {"calf": figure(9.0, 1.5), "chest": figure(9.6, 1.5)},
        skin={"calf": figure(10.0, 6.0), "chest": figure(12.0, 6.0)},
        comfort={"calf": figure(7.0, 1.0), "chest": figure(6.5, 1.0)},
    )
    names = ("accuracy", "skin", "comfort")
    for mix in np.random.default_rng(5).dirichlet(np.ones(3) / 2, size=25):
        found = chances(choose(document, dict(zip(names, mix, strict=True)), rng()))
        assert found["chest"] <= 0.5 <= found["calf"]


def test_better_figures_never_lower_a_chance():
    worse = {"calf": figure(10.0, 1.0), "chest": figure(10.3, 1.0), "forearm": figure(9.9, 1.0)}
    before = None
    for value in (12.0, 11.0, 10.0, 9.0, 8.0):
        found = chances(choose(paper(worse | {"calf": figure(value, 1.0)}), {"accuracy": 1}, rng()))["calf"]
        assert before is None or found >= before
        before = found
    assert before > 0.9


def test_leaving_out_a_site_never_turns_the_order_of_two_others(document):
    """Scales are fixed, so there is no dependence on what else is compared."""
    weights = {"accuracy": 1}
    whole = choose(document, weights, rng())
    order = [chance.site for chance in whole.sites]
    for gone in order[2:]:
        rest = {**document, "tables": {**document["tables"]}}
        rest["tables"]["sites"] = [row for row in document["tables"]["sites"] if row["site"] != gone]
        assert [chance.site for chance in choose(rest, weights, rng()).sites][:2] == order[:2]


def test_chances_add_up_and_the_best_comes_first(document):
    choice = choose(document, {"accuracy": 1, "stays_on": 1}, rng())
    assert sum(chances(choice).values()) == pytest.approx(1, abs=0.005 * len(choice.sites))
    assert sum(chance.p_worst_frac for chance in choice.sites) == pytest.approx(1, abs=0.005 * len(choice.sites))
    assert list(chances(choice).values()) == sorted(chances(choice).values(), reverse=True)


def test_what_is_withheld_is_named_as_left_out(document):
    choice = choose(document, {"accuracy": 1, "comfort": 2}, rng())
    compared, missing = {chance.site for chance in choice.sites}, {left.site: left for left in choice.left_out}
    assert compared == {"upper_arm.back", "thigh.front"}
    assert compared | set(missing) == set(SITES)
    assert missing["chest"].not_told == ("comfort",)
    # Four people wore it there: nothing tells that from a site that nobody wore.
    assert missing["forearm"].not_told == missing["lower_back"].not_told == ("accuracy", "comfort")
    assert NOTE_LEFT_OUT in choice.notes


def test_a_bound_is_taken_as_even_over_its_side():
    """Even over 0 to 20 against a point near 5: first 1 time in 4."""
    document = paper(skin={"calf": {"value": 20, "bound": "at_most"}, "chest": figure(5.0, 1e-6)})
    choice = choose(document, {"skin": 1}, rng())
    assert chances(choice)["calf"] == pytest.approx(0.25, abs=0.02)
    assert NOTE_BOUNDS in choice.notes


def test_figures_of_few_people_without_an_interval_are_not_weighed():
    document = paper(stays_on={"calf": {"value": 90}, "chest": figure(80, 5), "forearm": figure(70, 5)})
    choice = choose(document, {"stays_on": 1}, rng())
    assert set(chances(choice)) == {"chest", "forearm"}


def test_equal_sites_share_and_a_wide_field_is_said_in_words():
    same = figure(10.0, 1.0)
    choice = choose(paper({"calf": same, "chest": same, "forearm": same}), {"accuracy": 1}, rng())
    assert all(chance == pytest.approx(1 / 3, abs=0.02) for chance in chances(choice).values())
    assert NOTE_FEW_AHEAD in choice.notes
    certain = choose(paper({"calf": figure(10, 0), "chest": figure(10, 0)}), {"accuracy": 1}, rng())
    assert chances(certain) == {"calf": 0.5, "chest": 0.5}


def test_by_sensor_model_only_rows_of_that_model_count(document):
    choice = choose(document, {"accuracy": 1}, rng(), sensor_model="demo-a14")
    assert set(chances(choice)) == {"upper_arm.back", "abdomen.front"}
    assert choose(document, {"accuracy": 1}, rng(), sensor_model="demo-z99").notes[0] == NOTE_NOTHING


def test_with_less_than_two_sites_there_is_nothing_to_weigh():
    choice = choose(paper({"calf": figure(9, 1)}), {"accuracy": 1}, rng())
    assert (choice.sites, choice.notes) == ((), (NOTE_NOTHING, NOTE_LEFT_OUT))


@pytest.mark.parametrize(
    "weights",
    [{}, {"accuracy": 0}, {"accuracy": -1}, {"accuracy": float("nan")}, {"accuracy": float("inf")}, {"colour": 1}],
)
def test_weights_that_say_nothing_are_refused(document, weights):
    with pytest.raises(InvalidInput):
        choose(document, weights, rng())


def test_weights_are_brought_to_one():
    assert normalised({"skin": 5, "ease": 15, "accuracy": 0}) == {"skin": 0.25, "ease": 0.75}
