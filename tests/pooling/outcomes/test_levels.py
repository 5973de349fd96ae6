"""Draws of a channel as rows: cells by name, places by people."""

import numpy as np
import pytest

from pooling.errors import InvalidInput
from pooling.hierarchy import FitRules, fit_channel
from pooling.hierarchy.results import Estimate
from pooling.outcomes.levels import drawn_rows, levels
from pooling.sealing import Cell
from tests.calibration.outcomes import Summary
from tests.pooling.hierarchy.outcomes import days, people, seal, sealed_days

RULES = FitRules(draws=200)
BLOCKS = [
    (Cell("everyone", "calf", "demo-a14"), people(days(30, 0.9))),
    (Cell("everyone", "calf", "demo-b10"), people([Summary(worn_min=10 * 1440)] * 10, first=50, life=10)),
    (Cell("everyone", "chest"), people(days(8, 0.5), first=80)),
]
RECORDS = seal(BLOCKS, "survival")
FIT = fit_channel(RECORDS, "on_rated", RULES, np.random.default_rng(1))


def test_cells_that_name_a_model_have_a_row_and_every_place_has_one():
    assert set(drawn_rows(RECORDS, FIT)) == {
        ("calf", "demo-a14"), ("calf", "demo-b10"), ("calf", None), ("chest", None),
    }  # fmt: skip


def test_a_place_is_the_mean_of_its_models_by_people():
    rows = drawn_rows(RECORDS, FIT)
    expected = 0.75 * rows["calf", "demo-a14"].draws + 0.25 * rows["calf", "demo-b10"].draws
    assert np.allclose(rows["calf", None].draws, expected)
    assert rows["calf", None].n_people == 40
    assert rows["calf", None].n_wears == (30, 10)
    assert rows["calf", None].sensor_models == {"demo-a14", "demo-b10"}


def test_levels_are_quantiles_in_the_wanted_unit():
    row = drawn_rows(RECORDS, FIT)["chest", None]
    found = next(level for level in levels(RECORDS, FIT, unit=100.0) if level.place == "chest")
    assert found.estimate == Estimate.of(100 * row.draws)
    assert (found.sensor_model, found.n_people) == (None, 8)


def test_other_records_are_refused():
    with pytest.raises(InvalidInput, match="other records"):
        levels(sealed_days(0.5), FIT)
