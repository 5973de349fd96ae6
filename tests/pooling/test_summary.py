import math
from itertools import pairwise

import msgspec
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pooling.accuracy import agreement
from pooling.columns import PairColumns
from pooling.errors import InvalidInput
from pooling.record import Ratings, record_from
from pooling.summary import (
    STRATA,
    RatingsGiven,
    SummaryRules,
    finish,
    from_bytes,
    merge,
    sealable,
    summarise,
    summarise_record,
    to_bytes,
)

RULES = SummaryRules(version=1)
SCHEDULED, DOUBT, CALIBRATION, OTHER = range(4)


def _columns(rows, unit="mg/dL"):
    """Rows of (elapsed_min, reference, sensor or -1, mark, prompt, rate_hundredths, gap_min), readings in the unit."""
    table = np.array(rows, dtype=float).reshape(-1, 7)
    minute, reference, sensor, mark, prompt, rate, gap = table.T
    return PairColumns(
        elapsed_min=minute,
        reference_hundredths=np.rint(100 * reference),
        sensor_hundredths=np.where(mark > 0, -1, np.rint(100 * sensor)),
        mark=mark,
        prompt=prompt,
        source=np.zeros(len(table)),
        rate_hundredths=rate,
        gap_min=gap,
        replicate_hundredths=np.full(len(table), -1),
        glucose_unit=unit,
    )


def _pair(minute=2000, reference=100.0, sensor=100.0, *, mark=0, prompt=SCHEDULED, rate=-32768, gap=-1):
    return (minute, reference, sensor, mark, prompt, rate, gap)


def _summary(rows, *, unit="mg/dL", rules=RULES, worn_min=20_000, **more):
    rest = {"end_reason": "completed", "skin_grade": None, "ratings": None}
    return summarise(_columns(rows, unit), worn_min=worn_min, rules=rules, **rest | more)


def _random_rows(rng, n):
    minutes = np.sort(rng.integers(0, 4000, n)) * 5
    reference = rng.integers(40, 330, n)
    sensor = np.clip(np.rint(reference * rng.lognormal(0, 0.12, n)), 40, 400)
    return [
        _pair(minute, r, s, mark=int(rng.random() < 0.05), prompt=int(rng.integers(0, 4)))
        for minute, r, s in zip(minutes, reference, sensor, strict=True)
    ]


def test_the_direct_figures_are_those_of_agreement():
    rows = [_pair(5 * i, 60 + 7 * i, 50 + 8 * i) for i in range(20)]
    columns = _columns(rows)
    found, expected = _summary(rows).strata["all"], agreement(columns.reference_mg_dl, columns.sensor_mg_dl)
    assert 100 * found.a1 / found.n_pairs == pytest.approx(expected.mard_pct, rel=1e-12)
    assert 100 * found.k15 / found.n_pairs == pytest.approx(expected.within_15_15_pct)
    assert 100 * found.k20 / found.n_pairs == pytest.approx(expected.within_20_20_pct)


def test_each_pair_counts_in_its_own_strata():
    rows = [
        _pair(0, 69.99),
        _pair(1435, 70, prompt=DOUBT),
        _pair(1440, 180, prompt=OTHER),
        _pair(10_075, 180.01),
        _pair(10_080, 120, prompt=DOUBT),
    ]
    counts = {name: stratum.n_pairs for name, stratum in _summary(rows).strata.items()}
    assert counts == {
        "all": 5,
        "scheduled": 2,
        "doubt": 2,
        "day1": 2,
        "days2_7": 2,
        "day8_on": 1,
        "reference_low": 1,
        "reference_mid": 3,
        "reference_high": 1,
    }


def test_range_edges_are_those_of_the_unit_that_was_typed():
    # 70-180 mg/dL and 3.9-10.0 mmol/L are the same range, both ends inside (Diabetes Care 2019;42:1593).
    rows = [_pair(0, 3.8), _pair(5, 3.9), _pair(10, 10.0), _pair(15, 10.1)]
    strata = _summary(rows, unit="mmol/L").strata
    assert [strata[name].n_pairs for name in ("reference_low", "reference_mid", "reference_high")] == [1, 2, 1]


def test_lows_are_counted_by_reference_and_by_sensor_marked_readings_too():
    rows = [
        _pair(0, 60, 65),
        _pair(5, 60, mark=1),
        _pair(10, 60, 80),
        _pair(15, 60, mark=2),
        _pair(20, 90, 60),
        _pair(25, 90, mark=1),
        _pair(30, 90, 95),
    ]
    found = _summary(rows)
    assert (found.both_low, found.missed_low, found.false_low, found.neither) == (2, 2, 2, 1)
    assert found.strata["all"].n_pairs == 4
    assert sum(found.zones) == 4


def test_a_pair_that_calibrated_the_sensor_counts_nowhere():
    found = _summary([_pair(prompt=CALIBRATION), _pair(reference=60, prompt=CALIBRATION, mark=1)])
    assert found.strata["all"].n_pairs == 0
    assert found.both_low == found.neither == sum(found.zones) == 0


@pytest.mark.parametrize(
    ("rules", "kept"),
    [
        (RULES, 5),
        (SummaryRules(version=2, widest_gap_min=5), 4),
        (SummaryRules(version=2, highest_rate_mg_dl_min=2.0), 4),
        (SummaryRules(version=2, first_day="leave_out"), 4),
        (SummaryRules(version=2, widest_gap_min=5, highest_rate_mg_dl_min=2.0, first_day="leave_out"), 2),
    ],
)
def test_a_rule_is_broken_only_by_a_known_value(rules, kept):
    rows = [
        _pair(1435),
        _pair(2000, gap=6),
        _pair(2005, rate=-201),
        _pair(2010, gap=5, rate=200),
        _pair(2015),
    ]
    assert _summary(rows, rules=rules).strata["all"].n_pairs == kept


def test_zones_are_those_of_the_consensus_grid():
    # Points of fixtures/published/consensus_points.csv.
    rows = [_pair(0, 100, 100), _pair(5, 180, 100), _pair(10, 55, 90), _pair(15, 40, 116), _pair(20, 40, 287)]
    assert _summary(rows).zones == (1, 1, 1, 1, 1)


@pytest.mark.parametrize(
    ("worn_min", "days"),
    [(720, (0.5, 0, 0)), (1440, (1, 0, 0)), (7200, (1, 4, 0)), (20160, (1, 6, 7))],
)
def test_days_worn_by_phase(worn_min, days):
    assert _summary([], worn_min=worn_min).worn_days_by_phase == days
    left_out = _summary([], worn_min=worn_min, rules=SummaryRules(version=1, first_day="leave_out"))
    assert left_out.worn_days_by_phase == (0, *days[1:])


def test_a_wear_without_pairs_still_has_an_end_skin_and_ratings(good_record):
    good_record |= {"pairs": [], "worn_min": 700, "end_reason": "knocked_off", "events": []}
    found = summarise_record(record_from(good_record), rules=RULES)
    assert found.end_reason == "knocked_off"
    assert found.worn_min == 700
    assert found.skin_grade == 1
    assert found.ratings == RatingsGiven(ease=8, comfort=6, discretion=9)
    assert all(stratum.n_pairs == 0 for stratum in found.strata.values())


def test_what_was_not_asked_stays_unasked():
    ratings = Ratings(rated_by="self", comfort=0)
    assert _summary([], ratings=ratings).ratings == RatingsGiven(comfort=0)
    assert _summary([]).ratings == RatingsGiven()


def test_a_pair_outside_the_wear_is_refused():
    with pytest.raises(InvalidInput, match="outside the wear"):
        _summary([_pair(20_005)])


def test_a_finished_summary_holds_no_single_reading():
    assert all(stratum.ends is None for stratum in _summary([_pair()]).strata.values())


# ---- parts -----------------------------------------------------------------------------------------------------------


def _figures(summary):
    strata = (msgspec.structs.astuple(stratum)[:-1] for stratum in summary.strata.values())
    return [number for figures in strata for number in figures]


@given(st.integers(0, 2**32 - 1), st.integers(0, 60), st.integers(0, 19_995), st.integers(0, 19_995))
def test_parts_of_a_wear_merge_to_the_whole(seed, n, cut_1, cut_2):
    rows = _random_rows(np.random.default_rng(seed), n)
    edges = [0, *(cut // 5 * 5 for cut in sorted((cut_1, cut_2))), 20_000]
    parts = [
        _summary([row for row in rows if start <= row[0] < end], worn_min=end, part_from_min=start)
        for start, end in pairwise(edges)
    ]
    whole, found = _summary(rows), finish(merge(merge(parts[0], parts[1]), parts[2]))
    assert _figures(found) == pytest.approx(_figures(whole), rel=1e-12, abs=1e-12)
    assert found.worn_days_by_phase == pytest.approx(whole.worn_days_by_phase, abs=1e-12)
    counts = ("zones", "both_low", "missed_low", "false_low", "neither", "worn_min", "end_reason", "part")
    assert [getattr(found, name) for name in counts] == [getattr(whole, name) for name in counts]


def test_the_later_part_tells_how_it_ended():
    early = _summary([], worn_min=1000, part_from_min=0, end_reason="unknown", skin_grade=1)
    late = _summary([], part_from_min=1000, end_reason="fell_off", ratings=RatingsGiven(ease=3))
    found = merge(early, late)
    assert (found.end_reason, found.skin_grade, found.ratings.ease) == ("fell_off", 1, 3)


def test_only_parts_under_the_same_rules_merge():
    part = _summary([], part_from_min=0)
    with pytest.raises(InvalidInput, match="finished"):
        merge(part, finish(part))
    with pytest.raises(InvalidInput, match="different rules"):
        merge(part, _summary([], part_from_min=0, rules=SummaryRules(version=2)))


# ---- bytes -----------------------------------------------------------------------------------------------------------


@given(st.integers(0, 2**32 - 1), st.integers(0, 40), st.booleans())
def test_bytes_bring_back_the_summary(seed, n, part):
    rows = _random_rows(np.random.default_rng(seed), n)
    summary = _summary(rows, part_from_min=0 if part else None)
    assert from_bytes(to_bytes(summary)) == summary
    assert all(math.isfinite(number) for number in _figures(summary))


def test_a_summary_has_a_fixed_size():
    sizes = [len(to_bytes(_summary(_random_rows(np.random.default_rng(1), n)))) for n in (1000, 2000)]
    assert sizes[1] < sizes[0] + 100


@given(st.integers(0, 10**6), st.integers(0, 40))
def test_sealing_reads_what_the_whole_summary_says(seed, n):
    summary = _summary(_random_rows(np.random.default_rng(seed), n))
    read = sealable(to_bytes(summary))
    assert read.strata == {"all": summary.strata["all"]}
    others = ("version", "zones", "crossed", "worn_min", "end_reason", "skin_grade", "ratings")
    assert [getattr(read, name) for name in others] == [getattr(summary, name) for name in others]
    assert {*others, "strata"} == set(type(read).__struct_fields__)


@pytest.mark.parametrize("read", [from_bytes, sealable])
@given(junk=st.binary(max_size=100))
def test_junk_is_no_summary(read, junk):
    with pytest.raises(InvalidInput):
        read(junk)


def test_another_version_is_refused():
    content = msgspec.to_builtins(_summary([]))
    for read in (from_bytes, sealable):
        with pytest.raises(InvalidInput):
            read(msgspec.msgpack.encode(content | {"version": 2}))
    with pytest.raises(InvalidInput, match="strata"):
        from_bytes(msgspec.msgpack.encode(content | {"strata": {}}))
    assert tuple(content["strata"]) == STRATA
