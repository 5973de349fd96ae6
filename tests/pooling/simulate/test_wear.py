"""Invented records look as records do."""

import json
from collections import Counter

import numpy as np
import pytest

from pooling.record import parse_record
from pooling.simulate.law import Effects, SensorModelPlan, draw_law
from pooling.simulate.wear import (
    Record,
    WearCircumstances,
    displayed,
    draw_lost_wear,
    draw_wear,
    with_absurd_values,
)
from pooling.vocabulary import SITES

LAW = draw_law(np.random.default_rng(1), SITES, [SensorModelPlan("demo-a14", 14, ("upper_arm.back",))])


def circumstances(unit: str, n_pairs: int | None = None) -> WearCircumstances:
    return WearCircumstances("buttock", "demo-a14", unit, Effects(0.0, 0.0), n_pairs=n_pairs)


def draw(n_wears: int, unit: str, seed: int = 2) -> list[Record]:
    rng = np.random.default_rng(seed)
    return [draw_wear(rng, LAW, circumstances(unit)) for _ in range(n_wears)]


def test_most_wears_have_20_to_80_pairs_and_a_few_have_too_few():
    counts = np.array([len(record["pairs"]) for record in draw(400, "mg/dL")])
    assert 0.01 < np.mean(counts < 10) < 0.12
    assert np.mean((counts >= 20) & (counts <= 80)) > 0.88
    assert counts.max() <= 80


@pytest.mark.parametrize("unit", ["mg/dL", "mmol/L"])
def test_minutes_are_multiples_of_five_in_order_and_within_the_wear(unit):
    for record in draw(60, unit):
        minutes = [pair["elapsed_min"] for pair in record["pairs"]]
        assert minutes == sorted(set(minutes))
        assert all(minute % 5 == 0 and 0 < minute <= record["worn_min"] for minute in minutes)
        assert all(event["elapsed_min"] <= record["worn_min"] for event in record["events"])


def test_readings_are_rounded_as_displays_round():
    for pair in (pair for record in draw(30, "mg/dL") for pair in record["pairs"]):
        assert isinstance(pair["reference"], int)
        assert pair["sensor"] is None or isinstance(pair["sensor"], int)
        assert pair["replicate"] is None or isinstance(pair["replicate"], int)
    for pair in (pair for record in draw(30, "mmol/L") for pair in record["pairs"]):
        assert round(pair["reference"], 1) == pair["reference"] < 25


def test_marks_stand_exactly_where_no_reading_does():
    pairs = [pair for record in draw(400, "mg/dL") for pair in record["pairs"]]
    marks = Counter(pair["sensor_mark"] for pair in pairs)
    assert all((pair["sensor"] is None) == (pair["sensor_mark"] is not None) for pair in pairs)
    assert all(pair["sensor"] is None or 40 <= pair["sensor"] <= 500 for pair in pairs)
    assert marks["below"] > 0
    assert marks["above"] > 0
    assert marks["below"] + marks["above"] < 0.005 * len(pairs)


def test_prompts_are_mostly_scheduled_and_only_exports_carry_rates():
    pairs = [pair for record in draw(100, "mg/dL") for pair in record["pairs"]]
    prompts = Counter(pair["prompt"] for pair in pairs)
    assert prompts["scheduled"] / len(pairs) == pytest.approx(0.88, abs=0.03)
    assert prompts["doubt"] > 0
    assert all((pair["rate_mg_dl_min"] is None) == (pair["source"] == "display") for pair in pairs)
    assert {pair["source"] for pair in pairs} == {"trace", "display"}


def test_completed_wears_last_the_rated_life_and_skin_agrees_with_its_signs():
    records = draw(300, "mg/dL")
    completed = [record["worn_min"] for record in records if record["end_reason"] == "completed"]
    assert set(completed) == {14 * 1440}
    assert len(completed) / len(records) == pytest.approx(0.72, abs=0.1)
    assert all((record["skin"]["grade"] == 0) == (record["skin"]["signs"] == []) for record in records)
    assert {r["skin"]["grade"] for r in records if r["end_reason"] == "removed_skin"} == {4}
    assert all((record["assignment"] == "randomised") == (record["plan"] is not None) for record in records)


def test_a_lost_wear_has_no_pairs_and_lasted_hours():
    record = draw_lost_wear(np.random.default_rng(3), circumstances("mg/dL"))
    assert parse_record(json.dumps(record).encode()).pairs == ()
    assert record["end_reason"] == "fell_off"
    assert 60 <= record["worn_min"] < 720


@pytest.mark.parametrize(("unit", "low", "high"), [("mg/dL", 20, 600), ("mmol/L", 1.1, 33.3)])
def test_absurd_values_replace_the_readings_and_nothing_of_the_pattern(unit, low, high):
    record = draw(1, unit)[0]
    absurd = with_absurd_values(record)
    assert {pair["reference"] for pair in absurd["pairs"]} == {low}
    assert {pair["sensor"] for pair in absurd["pairs"]} == {high}
    assert [pair["elapsed_min"] for pair in absurd["pairs"]] == [pair["elapsed_min"] for pair in record["pairs"]]
    assert absurd["ratings"]["ease"] == absurd["ratings"]["comfort"] == absurd["ratings"]["discretion"] == 0
    assert record["pairs"][0]["reference"] != low


def test_the_number_of_pairs_can_be_asked_for():
    record = draw_wear(np.random.default_rng(4), LAW, circumstances("mg/dL", n_pairs=33))
    assert len(record["pairs"]) == 33


def test_a_display_shows_whole_mg_dl_or_one_decimal():
    assert displayed(np.array([70.4, 180.156]), "mg/dL").tolist() == [70.0, 180.0]
    assert displayed(np.array([70.4, 180.156]), "mmol/L").tolist() == [3.9, 10.0]
