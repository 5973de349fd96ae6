import pytest

from pooling.report import findings


def _group(name, mard, interval, n_pairs=20):
    return {"name": name, "n_pairs": n_pairs, "mard_pct": mard, "mard_interval_pct": interval}


@pytest.fixture
def report():
    return {
        "n_pairs": 40,
        "groups": {
            "phase": [
                _group("day1", None, None, 3),
                _group("days2_7", 9.04, [7.0, 12.0]),
                _group("day8_on", None, None, 0),
            ],
            "level": [_group("reference_mid", 8.0, [6.0, 9.5])],
            "rate": [],
            "prompt": [_group("scheduled", 7.0, [6.0, 8.0]), _group("doubt", 14.0, [10.0, 18.0])],
        },
        "consensus_zones_pct": {"A": 90.0, "B": 7.5, "C": 2.5, "D": 0.0, "E": 0.0},
        "limits": {"mg_dl": {"lower": -39.6, "bias": -2.8, "upper": 34.0}},
        "shows": [{"unit": "mg/dL", "reference_mg_dl": 70.0, "from_mg_dl": 58.2, "to_mg_dl": 84.4}],
        "means": [{"unit": "mg/dL", "sensor_mg_dl": 70.0, "from_mg_dl": 61.0, "to_mg_dl": 88.0}],
    }


def test_the_lowest_level_each_way_round(report):
    assert findings.of_levels(report, "mg/dL") == (
        "When the fingerstick was 70, the sensor mostly showed 58 to 84 mg/dL. "
        "When the sensor said 70, the fingerstick mostly was 61 to 88 mg/dL."
    )
    assert findings.of_levels(report | {"means": []}, "mg/dL").endswith("58 to 84 mg/dL.")


def test_groups_at_both_ends_and_whether_it_may_be_chance(report):
    said = findings.of_groups(report, "mg/dL")
    assert "nearest in the group “at planned times” (7.0 %, could be 6.0 to 8.0 %)" in said
    assert "farthest apart in the group “in doubt about the reading” (14.0 %" in said
    assert said.endswith("these margins do not overlap.")
    report["groups"]["prompt"][1]["mard_interval_pct"] = [7.9, 18.0]
    assert findings.of_groups(report, "mg/dL").endswith("these margins overlap, so it may be chance.")


def test_groups_of_different_kinds_are_not_compared(report):
    report["groups"] |= {"prompt": [_group("scheduled", 17.0, [16.0, 18.0]), _group("doubt", None, None)]}
    assert findings.of_groups(report, "mg/dL") == (
        "No two groups of one kind have pairs enough to be compared, but single ones have. In the group “70 to 180 "
        "mg/dL” (8.0 %, could be 6.0 to 9.5 %). In the group “at planned times” (17.0 %, could be 16.0 to 18.0 %)."
    )


def test_the_kind_that_makes_most_difference_is_told(report):
    report["groups"]["level"].append(_group("reference_low", 11.0, [9.0, 13.0], 9))
    assert "“at planned times”" in findings.of_groups(report, "mg/dL")
    report["groups"]["level"].append(_group("reference_high", 1.0, [0.5, 2.0], 9))
    assert "nearest in the group “above 180 mg/dL” (1.0 %" in findings.of_groups(report, "mg/dL")


def test_zones_in_words(report):
    assert "Of 40 pairs, 90 % lie in zone A" in findings.of_grid(report)
    assert findings.of_grid(report).endswith("2 % lie farther out, in zones C to E.")
    report["consensus_zones_pct"] |= {"C": 0.0}
    assert findings.of_grid(report).endswith("none lie farther out.")


def test_days_and_limits_in_words(report):
    assert findings.of_days(report, "mg/dL") == (
        "Average difference from the fingerstick over the wear. Day 1: too few pairs (3). Days 2 to 7: 9.0 %."
    )
    assert findings.of_limits(report, "mg/dL") == (
        "19 of 20 differences are expected between −39.6 and +34.0 mg/dL; on average it is −2.8 mg/dL."
    )
    # 39.6 mg/dL are 2.20 mmol/L.
    assert "between −2.20 and" in findings.of_limits(report, "mmol/L")
