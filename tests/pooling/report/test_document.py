import json

import numpy as np
import pytest

from pooling.caution import CAUTION_TEXT
from pooling.columns import pack, unpack
from pooling.record import from_header, header_of
from pooling.report import LicensedSite, in_words, wear_report
from pooling.simulate import single_wear


def test_the_measures_of_a_wear_by_hand(read, good_record):
    # References 112 141 88 203 64 beside 98 150 97.5 181 71: differences -14 9 9.5 -22 7.
    report = read(good_record).report()
    ard = np.array([14 / 112, 9 / 141, 9.5 / 88, 22 / 203, 7 / 64]) * 100
    assert report["n_pairs"] == 5
    assert report["mard_pct"] == round(float(ard.mean()), 2)
    assert report["median_ard_pct"] == round(float(np.median(ard)), 2)
    assert report["mad_mg_dl"] == round((14 + 9 + 9.5 + 22 + 7) / 5, 2)
    assert report["bias_mg_dl"] == round((-14 + 9 + 9.5 - 22 + 7) / 5, 2)
    assert [report[f"within_{band}_{band}_pct"] for band in (15, 20, 30, 40)] == [100] * 4
    assert report["consensus_zones_pct"]["A"] + report["consensus_zones_pct"]["B"] == 100
    assert sum(report["clarke_zones_pct"].values()) == 100


def test_few_pairs_say_less(read, good_record):
    report = read(good_record).report()
    assert "intervals" not in report
    assert (report["shows"], report["means"], report["limits"], report["lines"]) == ([], [], None, None)
    assert {group["mard_pct"] for kind in report["groups"].values() for group in kind} == {None}
    assert "5 pairs are too few" in report["in_words"]


def test_what_cannot_be_measured_is_counted_and_left_out(read, good_record):
    good_record["pairs"][0] |= {"sensor": None, "sensor_mark": "above"}
    good_record["pairs"][1] |= {"prompt": "calibration"}
    good_record["calibrated"] = True
    report = read(good_record).report()
    assert (report["n_pairs"], report["n_out_of_range"], report["n_calibrating"]) == (3, 1, 1)


def test_a_wear_without_pairs_has_a_report_without_measures(read, good_record):
    report = read(good_record | {"pairs": []}).report()
    assert (report["n_pairs"], report["in_words"]) == (0, "")
    assert not {"mard_pct", "meter", "groups", "shows"} & set(report)
    assert report["cannot_say"]
    assert report["worn_days"] == 13.9


def test_what_is_known_besides_readings(read, good_record):
    report = read(good_record).report()
    assert report["events"] == [{"day": 11, "what": "an edge came loose"}]
    assert report["skin"] == {
        "grade": 1,
        "says": "a mark or faint redness that was gone half an hour after removal",
        "signs": ["itch"],
    }
    assert report["ratings"] == {"ease": 8, "comfort": 6, "discretion": 9, "rated_by": "self"}
    bare = read(good_record | {"skin": None, "ratings": None, "events": []}).report()
    assert (bare["skin"], bare["ratings"], bare["events"]) == (None, None, [])


@pytest.mark.parametrize(
    ("licensed", "ages", "status"),
    [
        (None, None, "not_known"),
        ([LicensedSite("upper_arm.back", "all")], "adult", "off_label"),
        ([LicensedSite("abdomen.flank", "adult")], "child", "off_label_for_age"),
        ([LicensedSite("abdomen.flank", "all")], "child", "named"),
    ],
)
def test_off_label_is_said(read, good_record, licensed, ages, status):
    licence = read(good_record).report(licensed=licensed, ages=ages)["licence"]
    assert licence["status"] == status
    assert licence["says"].startswith("Off-label") == status.startswith("off_label")


def test_every_report_carries_the_caution_and_the_rule_behind_each_measure(read):
    content = single_wear(np.random.default_rng(2), "calf", "demo-b10", glucose_unit="mmol/L", n_pairs=100)
    report = read(content).report()
    assert report["caution"]["text"] == CAUTION_TEXT
    measures = {name for name in report if name.endswith(("_pct", "_mg_dl"))}
    assert measures == set(report["intervals"]) | {"consensus_zones_pct", "clarke_zones_pct"}
    assert measures <= set(report["rules"]) <= set(report)
    json.dumps(report, allow_nan=False)


def test_the_same_wear_has_the_same_report_before_and_after_it_is_stored(read):
    wear = read(single_wear(np.random.default_rng(3), "calf", "demo-b10", n_pairs=60))
    stored = wear_report(unpack(pack(wear.columns)), from_header(header_of(wear.record)))
    assert stored == wear.report() == wear.report()


def test_no_single_reading_is_in_it(read, good_record):
    # Readings that no figure can equal by chance.
    good_record["pairs"][0] |= {"reference": 123.45, "sensor": 131.17}
    text = json.dumps(read(good_record).report())
    assert "123.45" not in text
    assert "131.17" not in text


def test_words_follow_the_unit(read):
    wear = read(single_wear(np.random.default_rng(2), "calf", "demo-b10", n_pairs=40))
    report = wear.report(unit="mmol/L")
    assert report["in_words"] == " ".join(in_words(report, "mmol/L"))
    assert "mg/dL" not in report["in_words"]
    assert "within 0.83 mmol/L of fingersticks below 5.55 mmol/L" in report["rules"]["within_15_15_pct"]
    assert {name: value for name, value in report.items() if name not in ("in_words", "rules")} == {
        name: value for name, value in wear.report().items() if name not in ("in_words", "rules")
    }
