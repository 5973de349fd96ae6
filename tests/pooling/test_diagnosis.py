"""What is said of a fit: read from sums alone, in words no finer than what is published."""

import json
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import chi2

from pooling.diagnosis import diagnose
from pooling.edition import BASIS_TIED, assemble
from pooling.edition.seeds import seed_of
from pooling.hierarchy import CHANNELS, FitRules, combine, fit_channel
from pooling.sealing import SEAL_VERSION_1, Cell, seal_slot
from pooling.vocabulary import SITES
from tests.calibration.pools import simulate, ties_between
from tests.pooling.conftest import make_context

RULES = FitRules(draws=200)


def rng_of(part):
    return np.random.default_rng(seed_of("harbour", 1, 1, part))


class Story:
    """One invented pool from sealed sums to a document."""

    def __init__(self, *, people, cells, seed=4):
        pool = simulate(np.random.default_rng(seed), n_people=people, n_cells=cells, confounding=1.0)
        blocks = [
            (Cell("everyone", site, "demo-a14"), own) for site, (_, own) in zip(SITES, pool.blocks(), strict=False)
        ]
        sealed = seal_slot(
            blocks, ties=ties_between(blocks), open_places=(), end_bucket=4, version=SEAL_VERSION_1, key=b"slot", k=5
        )
        self.records = sealed.records
        self.fits = {channel: fit_channel(self.records, channel, RULES, rng_of(channel)) for channel in CHANNELS}
        self.fit = combine(self.records, self.fits, RULES, rng_of("combined"))
        self.document = assemble(self.fit, make_context())

    def told(self, **changed):
        given = {"fits": self.fits, "diagnostics": self.fit.diagnostics, "document": self.document} | changed
        return diagnose(self.records, given["fits"], given["diagnostics"], given["document"], RULES, rng_of)


@pytest.fixture(scope="module")
def story():
    return Story(people=120, cells=3)


@pytest.fixture(scope="module")
def told(story):
    return story.told()


def numbers(node):
    if isinstance(node, dict):
        return [number for value in node.values() for number in numbers(value)]
    if isinstance(node, list):
        return [number for value in node for number in numbers(value)]
    return [node] if isinstance(node, int | float) and not isinstance(node, bool) else []


def test_every_channel_says_how_many_draws_it_is_worth_and_how_spread_out_it_is(story, told):
    assert [channel["channel"] for channel in told["channels"]] == sorted(CHANNELS)
    for channel in told["channels"]:
        assert 100 <= channel["effective"]["at_least"] <= story.fits[channel["channel"]].effective
        assert {check["of"] for check in channel["spread"]} >= {"between people"}
        assert {check["says"] for check in channel["spread"]} <= {
            "as expected", "more than expected", "less than expected"
        }  # fmt: skip


def test_numbers_are_steps_and_no_others(told):
    """A twentieth is what the rule for probabilities gives from 30 people; the others are steps of a ladder."""
    for channel in told["channels"]:
        for check in channel["spread"]:
            assert round(check["frac"]["value"] * 20, 9) == round(check["frac"]["value"] * 20)
    fracs = [number for channel in told["channels"] for check in channel["spread"] for number in numbers(check)]
    steps = [number for number in numbers(told) if number not in fracs]
    assert set(steps) <= {100, 200, 500, 1000, 2000, 5000}


def test_a_spread_that_the_model_does_not_know_is_seen(story):
    fit = story.fits["location"]
    (name, _, freedom), *others = fit.squares
    for share, says in ((0.001, "more than expected"), (0.5, "as expected"), (0.999, "less than expected")):
        ratio = float(chi2.isf(share, freedom)) / freedom
        bent = replace(fit, squares=((name, ratio, freedom), *others))
        channel = story.told(fits={"location": bent})["channels"][0]
        assert next(check for check in channel["spread"] if check["of"] == "between people")["says"] == says


def test_within_and_overall_are_set_side_by_side_for_sites_that_people_wore_both(story, told):
    tied = [row for row in story.document["tables"]["contrasts"] if row["basis"] == BASIS_TIED]
    assert 0 < len(told["contrasts"]) <= len(tied)
    assert {contrast["says"] for contrast in told["contrasts"]} <= {"they agree", "they part"}
    fit = story.fits["location"]
    away = fit.levels_within.copy()
    away[:, 0] += 50 * away[:, 0].std()
    parted = story.told(fits={"location": replace(fit, levels_within=away)})["contrasts"]
    assert "they part" in {contrast["says"] for contrast in parted}


def test_a_level_far_from_what_all_channels_say_is_named(story, told):
    assert told["residual"]["largest"] in ("under 2", "2 to 3", "over 3")
    row = story.document["tables"]["sites_by_model"][0]
    cell = f"{row['site'] or row['region']}|{row['sensor_model']}"
    bent = {**story.fit.diagnostics, "direct_apart_sd": {cell: -3.4, "calf|hidden": 9.0}}
    found = story.told(diagnostics=bent)["residual"]
    assert found == {
        "largest": "over 3", "rows_over_3": [{"row": row["label"], "sensor_model": row["sensor_model"]}]
    }  # fmt: skip


def test_each_site_is_left_out_once_and_what_changes_is_told_in_words(story, told):
    assert [site["row"] for site in told["influence"]] == [row["label"] for row in story.document["tables"]["sites"]]
    assert all(site["says"].endswith("without it") for site in told["influence"])
    fit = story.fits["location"]
    wider = replace(fit, sds=fit.sds * 4, chosen_variance=fit.chosen_variance * 16)
    changed = story.told(fits={"location": wider})["influence"]
    assert {site["says"] for site in changed} == {"people differ much less without it"}


def test_nothing_is_said_of_a_place_that_has_no_row(story):
    document = json.loads(json.dumps(story.document))
    hidden = document["tables"]["sites"].pop()
    for table in ("sites_by_model", "contrasts"):
        document["tables"][table] = []
    assert hidden["label"] not in json.dumps(story.told(document=document))


def test_the_same_sums_give_the_same_words(story, told):
    assert story.told() == told


def test_an_empty_fit_has_nothing_to_be_said_of(story, make_context):
    from pooling.edition import EmptyFit

    document = assemble(EmptyFit(), make_context())
    found = story.told(fits={}, diagnostics={}, document=document)
    assert (found["channels"], found["residual"], found["contrasts"], found["influence"]) == ([], None, [], [])
