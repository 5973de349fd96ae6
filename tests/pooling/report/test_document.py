import json

import numpy as np
import pytest

from pooling.caution import CAUTION_TEXT
from pooling.columns import columns_from
from pooling.record import parse_record
from pooling.report import in_words, wear_report
from pooling.simulate import single_wear


def _report(content):
    record = parse_record(json.dumps(content).encode())
    return wear_report(columns_from(record), record)


def test_the_measures_of_a_wear_by_hand(good_record):
    # References 112 141 88 203 64 beside 98 150 97.5 181 71: differences -14 9 9.5 -22 7.
    report = _report(good_record)
    ard = np.array([14 / 112, 9 / 141, 9.5 / 88, 22 / 203, 7 / 64]) * 100
    assert report["n_pairs"] == 5
    assert report["mard_pct"] == round(float(ard.mean()), 2)
    assert report["median_ard_pct"] == round(float(np.median(ard)), 2)
    assert report["bias_mg_dl"] == round((-14 + 9 + 9.5 - 22 + 7) / 5, 2)
    assert (report["within_15_15_pct"], report["within_20_20_pct"]) == (100, 100)
    assert report["consensus_zones_pct"]["A"] + report["consensus_zones_pct"]["B"] == 100
    assert sum(report["clarke_zones_pct"].values()) == 100
    assert f"{ard.mean():.0f} mg/dL on average" in report["in_words"]
    # 95 % t interval of a mean: t with 4 degrees of freedom is 2.776 (any statistical table).
    assert report["mard_margin_points"] == pytest.approx(2.776 * ard.std(ddof=1) / np.sqrt(5), abs=0.006)
    # One fingerstick below 70 (64), shown as 71.
    assert report["lows"] == {"n_low_by_reference": 1, "n_of_them_shown_low": 0, "n_shown_low_only": 0}
    assert "Of 1 fingerstick below range, the sensor showed 0 as below range." in report["in_words"]
    # Too few pairs to say what it mostly showed.
    assert report["shows"] == []


def test_what_cannot_be_measured_is_counted_and_left_out(good_record):
    good_record["pairs"][0] |= {"sensor": None, "sensor_mark": "above"}
    good_record["pairs"][1] |= {"prompt": "calibration"}
    good_record["calibrated"] = True
    report = _report(good_record)
    assert (report["n_pairs"], report["n_out_of_range"], report["n_calibrating"]) == (3, 1, 1)


def test_a_reading_below_the_sensors_range_counts_as_a_low(good_record):
    good_record["pairs"][0] |= {"sensor": None, "sensor_mark": "below"}
    good_record["pairs"][4] |= {"sensor": None, "sensor_mark": "below"}
    report = _report(good_record)
    assert report["lows"] == {"n_low_by_reference": 1, "n_of_them_shown_low": 1, "n_shown_low_only": 1}
    assert "It showed a low 1 time when the fingerstick did not." in report["in_words"]


def test_one_pair_has_no_margin(good_record):
    del good_record["pairs"][1:]
    report = _report(good_record)
    assert report["mard_margin_points"] is None
    assert "next to nothing" in report["in_words"]


def _wear_of(ratios, good_record):
    pair = good_record["pairs"][0]
    good_record["pairs"] = [
        pair | {"elapsed_min": 60 * number, "reference": 150, "sensor": round(150 * ratio, 2)}
        for number, ratio in enumerate(ratios)
    ]
    return good_record


def test_what_it_mostly_showed_holds_four_in_five_further_readings(good_record):
    rng = np.random.default_rng(21)
    n_inside, n_readings = 0, 0
    for _ in range(40):
        *seen, new = np.split(rng.lognormal(-0.05, 0.1, 120), [20])
        report = _report(_wear_of(*seen, good_record))
        low, high = report["shows"][1]["from_mg_dl"], report["shows"][1]["to_mg_dl"]
        n_inside += int(((100 * new >= low - 0.5) & (100 * new <= high + 0.5)).sum())
        n_readings += new.size
        assert f"When the fingerstick was 100, the sensor mostly showed {low} to {high} mg/dL." in report["in_words"]
    # A prediction interval for normal values covers 80 % over repetitions; 40 wears leave about 1.5 points of chance.
    assert n_inside / n_readings == pytest.approx(0.8, abs=0.045)


@pytest.mark.parametrize(
    ("ratio", "said"), [(1.03, "rather high"), (0.97, "rather low"), (1.01, "neither high nor low")]
)
def test_the_words_follow_the_bias(good_record, ratio, said):
    assert f"and read {said}." in _report(_wear_of([ratio, ratio + 0.001], good_record))["in_words"]


def test_a_wear_without_pairs_has_a_report_without_measures(good_record):
    report = _report(good_record | {"pairs": []})
    assert report["n_pairs"] == 0
    assert "mard_pct" not in report
    assert report["cannot_say"]


def test_every_report_carries_the_caution_and_the_rule_behind_each_measure():
    report = _report(single_wear(np.random.default_rng(2), "calf", "demo-b10", glucose_unit="mmol/L", n_pairs=30))
    assert report["caution"]["text"] == CAUTION_TEXT
    assert set(report["rules"]) <= set(report)
    json.dumps(report, allow_nan=False)


def test_the_same_words_in_the_readers_unit(good_record):
    report = _report(_wear_of([1.1, 0.9] * 10, good_record))
    words = " ".join(in_words(report, "mmol/L"))
    # 100, 10 and 70 mg/dL are 5.55, 0.555 and 3.89 mmol/L (18.0156 mg/dL each, molar mass of glucose).
    assert "Beside a fingerstick of 5.6 mmol/L the sensor was off by about 0.6 mmol/L on average" in words
    assert "When the fingerstick was 3.9, the sensor mostly showed" in words
    assert "mg/dL" not in words
    assert " ".join(in_words(report, "mg/dL")) == report["in_words"]


def test_a_report_without_a_measured_pair_has_no_words(good_record):
    good_record["pairs"] = []
    assert in_words(_report(good_record), "mmol/L") == []
