"""Pairs from two instruments: nearest or interpolated, replicates, reasons; five minutes are common practice."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pooling.errors import InvalidInput
from pooling.importing.types import Series
from pooling.pairing import REASONS, PairingRules, pair
from pooling.pairing.wear import Unmatched
from pooling.record import record_from
from pooling.simulate.trace import draw_exports
from tests.pooling.pairing.series import END, START, series, steady


def _pair(sensor, meter, **options):
    return pair(sensor, meter, **({"inserted": START, "ended": END} | options))


def _only(sensor, meter, **options):
    (one,) = _pair(sensor, meter, **options).pairs
    return one


def test_a_pair_holds_both_readings_the_gap_and_the_rate():
    one = _only(series((90, 100), (95, 105), (100, 110)), series((96, 112)))
    assert (one.elapsed_min, one.reference, one.sensor, one.gap_min) == (96, 112, 105, 1)
    assert (one.rate_mg_dl_min, one.source, one.prompt) == (1.0, "trace", "other")


def test_coarse_storage_is_interpolated_unless_told_otherwise():
    sensor, meter = series((0, 100), (15, 130), (30, 160)), series((20, 140), (200, 90))
    found = _pair(sensor, meter)
    assert (found.method, found.pairs[0].sensor, found.pairs[0].gap_min) == ("interpolated", 140, 5)
    told = _pair(sensor, meter, rules=PairingRules(interpolate=False))
    assert (told.method, told.pairs[0].sensor) == ("nearest", 130)
    assert _pair(steady(0, 5, 10), meter).method == "nearest"


def test_a_sensor_that_is_calibrated_speaks_only_before_the_fingerstick():
    found = _pair(series((0, 100), (10, 130)), series((7, 120)), rules=PairingRules(tolerance_min=10, before_only=True))
    assert (found.pairs[0].sensor, found.rate_from) == (100, "before")
    assert _only(series((0, 100), (10, 130)), series((7, 120))).sensor == 130


def test_marks_make_marked_pairs():
    one = _only(series((0, "below"), (5, "below")), series((1, 52)))
    assert (one.sensor, one.sensor_mark, one.rate_mg_dl_min) == (None, "below", None)


def test_a_second_strip_is_a_replicate_and_a_third_is_left_out():
    found = _pair(steady(0, 5), series((1, 100), (2, 104), (2.5, 108), (3.5, 101)))
    assert [(one.reference, one.replicate) for one in found.pairs] == [(100, 104), (101, None)]
    assert found.unmatched == (Unmatched(4, "further_strip"),)
    assert found.n_replicates == 1


ALONE = {
    "repeated_row": (steady(0, 5), [(1, 100), (1, 100)]),
    "meter_out_of_range": (steady(0, 5), [(1, "above")]),
    "impossible_reading": (steady(0, 5), [(1, 12)]),
    "before_insertion": (steady(0, 5), [(-1, 100)]),
    "after_end": (steady(0, 5, 14_400), [(14_401, 100)]),
    "further_strip": (steady(0, 5), [(1, 100), (1.5, 101), (2, 102)]),
    "no_sensor_reading": (steady(0, 5), [(11, 100)]),
    "sensor_out_of_range": (series((0, 60), (15, "below"), (30, "below")), [(7, 60)]),
    "already_used": (steady(0, 100, 105, 110), [(1, 100), (4, 100)]),
}


def test_the_reasons_are_those_that_can_be_given():
    assert {*ALONE, "incomplete_row"} == set(REASONS)  # the last is for typed rows, in pooling.preparation


@pytest.mark.parametrize("reason", ALONE)
def test_every_reason_is_given_where_it_holds(reason):
    sensor, meter = ALONE[reason]
    found = _pair(sensor, series(*meter))
    assert [one.reason for one in found.unmatched] == [reason]
    assert len(found.pairs) + found.n_replicates + len(found.unmatched) == len(meter)


def test_a_second_strip_shares_the_reason_of_its_first():
    found = _pair(steady(0, 5), series((30, 100), (31, 101)))
    assert [one.reason for one in found.unmatched] == ["no_sensor_reading"] * 2


def test_a_confirmed_offset_moves_the_meter_and_an_unconfirmed_one_nothing():
    sensor, meter = series((55, 130), (60, 140), (120, 180), (125, 185)), series((121, 141))
    assert _only(sensor, meter).sensor == 180
    moved = _pair(sensor, meter, offset_min=60)
    assert (moved.pairs[0].sensor, moved.pairs[0].elapsed_min, moved.applied_offset_min) == (140, 61, 60)


def test_impossible_numbers_of_the_trace_are_no_readings_and_are_counted():
    found = _pair(series((0, 100), (5, 0), (10, 110)), series((6, 100)))
    assert (found.pairs[0].sensor, found.trace.n_impossible, found.trace.n_readings) == (110, 1, 2)


def test_two_readings_of_one_second_are_one():
    found = _pair(series((5, 100), (5, 104), (60, 100), (65, 100), (70, 100)), series((4, 100), (7.5, 103)))
    assert [one.sensor for one in found.pairs] == [100]
    assert [one.reason for one in found.unmatched] == ["already_used"]


def test_a_record_in_mmol_holds_what_was_typed():
    one = _only(series((0, 5.6 * 18.0156)), series((1, 6.1 * 18.0156)), glucose_unit="mmol/L")
    assert (one.reference, one.sensor) == (6.1, 5.6)


@pytest.mark.parametrize(
    "end", [START, START - np.timedelta64(1, "D"), START + np.timedelta64(31, "D")], ids=["none", "before", "too long"]
)
def test_a_wear_of_impossible_length_is_refused(end):
    with pytest.raises(InvalidInput, match="thirty days"):
        _pair(steady(0), steady(0), ended=end)


def test_nothing_of_the_readings_shows():
    found = _pair(steady(0, 5, value=123.0), series((1, 147)))
    assert "123" not in repr(found)
    assert "147" not in repr(found)


drawn = st.lists(
    st.tuples(st.integers(-100, 3000), st.sampled_from([61.0, 88.0, 143.0, 250.0, "below", "above"])), max_size=30
)


def _shuffled(given_series, rows):
    return Series(given_series.time[rows], given_series.mg_dl[rows], given_series.mark[rows], given_series.line[rows])


@given(drawn, drawn, st.booleans(), st.integers(0, 2**32), st.integers(-(10**6), 10**6))
def test_neither_the_order_of_rows_nor_moving_all_times_changes_a_pair(sensor, meter, interpolate, seed, moved_s):
    """Times in tenths of a minute, so that strips and readings come close."""
    rng, rules = np.random.default_rng(seed), PairingRules(interpolate=interpolate)
    sensor, meter = ([(tenth / 10, value) for tenth, value in rows] for rows in (sensor, meter))
    trace, sticks = series(*sensor), series(*meter)
    found = _pair(trace, sticks, rules=rules)
    other = _pair(
        _shuffled(trace, rng.permutation(len(sensor))), _shuffled(sticks, rng.permutation(len(meter))), rules=rules
    )
    assert (found.pairs, found.unmatched) == (other.pairs, other.unmatched)
    step = np.timedelta64(moved_s, "s")
    later = _pair(
        series(*sensor, start=START + step),
        series(*meter, start=START + step),
        inserted=START + step,
        ended=END + step,
        rules=rules,
    )
    assert (found.pairs, found.unmatched) == (later.pairs, later.unmatched)
    assert len(found.pairs) + found.n_replicates + len(found.unmatched) == len(meter)


def test_pairs_of_a_drawn_wear_make_a_valid_record(good_record):
    exports = draw_exports(np.random.default_rng(4), spacing_min=15, n_fingersticks=60)
    found = pair(exports.sensor, exports.meter, inserted=exports.inserted, ended=exports.ended)
    pairs = [{name: getattr(one, name) for name in one.__struct_fields__} for one in found.pairs]
    assert len(record_from(good_record | {"pairs": pairs}).pairs) >= 55
