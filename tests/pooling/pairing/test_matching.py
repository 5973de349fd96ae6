"""Claims of the matching, over many drawn layouts: each reading once, the closest first, the same moved in time."""

from itertools import product

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from pooling.pairing.matching import NONE, around, nearest
from pooling.pairing.readings import Readings

TOLERANCE_S = 300
moments = st.lists(st.integers(0, 3000), min_size=0, max_size=25)


def _readings(seconds):
    seconds = np.array(sorted(seconds), dtype=np.int64)
    return Readings(seconds, np.full(seconds.size, 100.0), np.zeros(seconds.size, dtype=np.int8), seconds)


def _closest_first(sticks, trace, tolerance_s, before_only):
    """The claim, spelled out one pair at a time."""
    candidates = sorted(
        (abs(trace[j] - sticks[i]), j, i)
        for i, j in product(range(len(sticks)), range(len(trace)))
        if abs(trace[j] - sticks[i]) <= tolerance_s and (trace[j] <= sticks[i] or not before_only)
    )
    found, used = {}, set()
    for _, j, i in candidates:
        if i not in found and j not in used:
            found[i] = j
            used.add(j)
    return [found.get(i, NONE) for i in range(len(sticks))]


@given(moments, st.sets(st.integers(0, 3000), max_size=25), st.booleans())
def test_the_closest_come_first_and_no_reading_twice(sticks, trace, before_only):
    sticks, trace = sorted(sticks), sorted(trace)
    match = nearest(_readings(sticks), _readings(trace), tolerance_s=TOLERANCE_S, before_only=before_only)
    assert match.first.tolist() == _closest_first(sticks, trace, TOLERANCE_S, before_only)
    used = match.first[match.found].tolist()
    assert len(used) == len(set(used))


@given(moments, st.sets(st.integers(0, 3000), max_size=25))
def test_between_two_readings_neither_is_used_again(sticks, trace):
    match = around(_readings(sticks), _readings(trace), widest_s=1200)
    trace = np.array(sorted(trace), dtype=np.int64)
    used = [{a, b} for a, b in zip(match.first.tolist(), match.second.tolist(), strict=True) if a != NONE]
    assert sum(map(len, used)) == len(set().union(*used))
    for second, a, b in zip(sorted(sticks), match.first, match.second, strict=True):
        if a != NONE:
            assert trace[a] <= second <= trace[b]
            assert trace[b] - trace[a] <= 1200
            assert b - a in (0, 1)


def test_of_two_equally_near_readings_the_earlier_is_taken():
    match = nearest(_readings([600]), _readings([480, 720]), tolerance_s=300, before_only=False)
    assert match.first.tolist() == [0]


def test_of_two_equally_near_fingersticks_the_earlier_has_the_reading():
    match = nearest(_readings([480, 720]), _readings([600]), tolerance_s=300, before_only=False)
    assert match.first.tolist() == [0, NONE]
    assert match.had_candidate.tolist() == [True, True]


def test_a_fingerstick_whose_nearest_is_gone_takes_the_next_within_reach():
    match = nearest(_readings([600, 610]), _readings([601, 800]), tolerance_s=300, before_only=False)
    assert match.first.tolist() == [0, 1]


def test_an_exact_moment_needs_one_reading_only():
    match = around(_readings([900]), _readings([0, 900, 1800]), widest_s=1200)
    assert (match.first.tolist(), match.second.tolist()) == ([1], [1])
