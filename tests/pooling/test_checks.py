"""Findings are common practice, from no published source: each is planted alone, and well-kept wears stay clean."""

import json

import numpy as np
import pytest

from pooling.checks import find
from pooling.columns import columns_from
from pooling.errors import RecordInvalid
from pooling.record import parse_record
from pooling.simulate import single_wear


def _wear(seed=1, n_pairs=40, **changes):
    record = single_wear(np.random.default_rng(seed), "thigh.front", "demo-a14", n_pairs=n_pairs)
    # The simulator leaves some pairs out of range; the faults below are planted in whole wears.
    for pair in record["pairs"]:
        if pair["sensor"] is None:
            pair |= {"sensor": pair["reference"], "sensor_mark": None}
    return record | changes


def _codes(content):
    record = parse_record(json.dumps(content).encode())
    return [finding.code for finding in find(columns_from(record), record)]


def _each(content, **changes):
    for number, pair in enumerate(content["pairs"]):
        pair |= {name: value(number, pair) if callable(value) else value for name, value in changes.items()}
    return content


def test_well_kept_wears_stay_without_a_remark_that_asks_for_something():
    asking = [code for seed in range(60) for code in _codes(_wear(seed)) if code != "calibration_pairs"]
    assert len(asking) <= 2


def test_a_wear_without_pairs_is_told_that_it_counts_all_the_same():
    assert _codes(_wear() | {"pairs": [], "events": []}) == ["too_few_pairs"]


PLANTED = {
    "copied_readings": lambda wear: _each(wear, sensor=lambda _, pair: pair["reference"]),
    "constant_offset": lambda wear: _each(wear, sensor=lambda _, pair: pair["reference"] + 7),
    "stuck_sensor": lambda wear: _each(wear, sensor=120),
    "digit_preference": lambda wear: _each(wear, reference=lambda _, pair: round(pair["reference"], -1)),
    "all_in_doubt": lambda wear: _each(wear, prompt="doubt"),
    "one_sided_range": lambda wear: _each(wear, reference=lambda n, _: 190 + 3 * n, sensor=lambda n, _: 180 + 4 * n),
    "repeated_pairs": lambda wear: wear | {"pairs": wear["pairs"] + wear["pairs"][-1:]},
    "calibration_pairs": lambda wear: (
        wear | {"calibrated": True, "pairs": [wear["pairs"][0] | {"prompt": "calibration"}, *wear["pairs"][1:]]}
    ),
}


@pytest.mark.parametrize("code", PLANTED)
def test_a_planted_fault_is_found(code):
    clean = _wear(3)
    assert code not in _codes(clean)
    assert code in _codes(PLANTED[code](clean))


def test_readings_in_another_unit_than_stated_are_refused_and_need_no_finding():
    wear = _each(_wear(3), sensor=lambda _, pair: round(pair["sensor"] / 18.0156, 1))
    with pytest.raises(RecordInvalid):
        _codes(wear)


def test_a_sensor_ahead_of_the_fingerstick_suggests_swapped_columns():
    def swapped(number, pair):
        return pair["reference"] + (12 if number % 2 else -12)

    wear = _each(_wear(5), sensor=swapped, rate_mg_dl_min=lambda number, _: 2.0 if number % 2 else -2.0)
    assert "swapped_columns" in _codes(wear)
    behind = _each(_wear(5), sensor=swapped, rate_mg_dl_min=lambda number, _: -2.0 if number % 2 else 2.0)
    assert "swapped_columns" not in _codes(behind)


def test_every_finding_says_what_why_and_what_to_do():
    record = parse_record(json.dumps(PLANTED["stuck_sensor"](_wear(3))).encode())
    for finding in find(columns_from(record), record):
        assert finding.severity in ("note", "look", "stop")
        assert all(text.endswith(".") for text in (finding.seen, finding.why, finding.do))
