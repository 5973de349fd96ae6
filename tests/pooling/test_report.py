import json

import numpy as np

from pooling.caution import CAUTION_TEXT
from pooling.columns import columns_from
from pooling.record import parse_record
from pooling.report import wear_report
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


def test_what_cannot_be_measured_is_counted_and_left_out(good_record):
    good_record["pairs"][0] |= {"sensor": None, "sensor_mark": "above"}
    good_record["pairs"][1] |= {"prompt": "calibration"}
    good_record["calibrated"] = True
    report = _report(good_record)
    assert (report["n_pairs"], report["n_out_of_range"], report["n_calibrating"]) == (3, 1, 1)


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
