"""Which sensor readings go with which fingerstick: the closest first, and no reading twice."""

from dataclasses import dataclass

import numpy as np

from pooling.pairing.readings import Flags, Ints, Readings

NONE = -1


@dataclass(frozen=True, slots=True, eq=False)
class Match:
    """For each fingerstick the places of its sensor readings, shape (n_fingersticks,); -1 where there is none.

    first, second : one and the same place, or the readings before and after it between which is interpolated
    had_candidate : whether any reading was near enough, taken or not
    """

    first: Ints
    second: Ints
    had_candidate: Flags

    @property
    def found(self) -> Flags:
        return self.first != NONE


def nearest(sticks: Readings, trace: Readings, *, tolerance_s: int, before_only: bool) -> Match:
    """Each fingerstick with the nearest reading that no closer pair needs; of two equally near the earlier.

    Claim: pairs are made in order of their gap, ties in order of time, and a reading or fingerstick that has its pair
    is gone. So each reading is used once at most, and nobody could be paired closer without another losing.
    """
    lowest = np.searchsorted(trace.second, sticks.second - tolerance_s, side="left")
    last = sticks.second + (0 if before_only else tolerance_s)
    n_near = np.searchsorted(trace.second, last, side="right") - lowest
    stick = np.repeat(np.arange(len(sticks)), n_near)
    reading = np.arange(stick.size) - np.repeat(np.cumsum(n_near) - n_near, n_near) + np.repeat(lowest, n_near)
    gap = np.abs(trace.second[reading] - sticks.second[stick])
    order = np.lexsort((stick, reading, gap))
    return _match(len(sticks), stick[order], reading[order], reading[order])


def around(sticks: Readings, trace: Readings, *, widest_s: int) -> Match:
    """Each fingerstick with the reading before and the one after it, at most `widest_s` apart; or one at its second.

    The same claim as `nearest`, the gap being that to the nearer of the two.
    """
    after = np.searchsorted(trace.second, sticks.second, side="left")
    inside = after < len(trace)
    exact = inside.copy()
    exact[inside] = trace.second[after[inside]] == sticks.second[inside]
    before = np.where(exact, after, after - 1)
    stick = np.flatnonzero(inside & (before >= 0))
    first, second = before[stick], after[stick]
    gap_before, gap_after = sticks.second[stick] - trace.second[first], trace.second[second] - sticks.second[stick]
    near = gap_before + gap_after <= widest_s
    order = np.lexsort((stick, np.minimum(gap_before, gap_after)))
    order = order[near[order]]
    return _match(len(sticks), stick[order], first[order], second[order])


def _match(n_sticks: int, stick: Ints, first: Ints, second: Ints) -> Match:
    """Take candidates in their order, each time all that are first in line for everything they need."""
    had_candidate = np.zeros(n_sticks, dtype=bool)
    had_candidate[stick] = True
    firsts, seconds = np.full(n_sticks, NONE), np.full(n_sticks, NONE)
    while stick.size:
        row = np.arange(stick.size)
        taken = (
            (_first_row_with(stick, stick) == row)
            & (_first_row_with(first, first, second) == row)
            & (_first_row_with(second, first, second) == row)
        )
        firsts[stick[taken]], seconds[stick[taken]] = first[taken], second[taken]
        used = np.concatenate([first[taken], second[taken]])
        free = ~(np.isin(stick, stick[taken]) | np.isin(first, used) | np.isin(second, used))
        stick, first, second = stick[free], first[free], second[free]
    return Match(firsts, seconds, had_candidate)


def _first_row_with(wanted: Ints, *needed: Ints) -> Ints:
    """For each place in `wanted` the first row in which any of the columns `needed` names it."""
    places, at = np.unique(np.column_stack(needed), return_index=True)
    return (at // len(needed))[np.searchsorted(places, wanted)]
