"""Clock changes: rules of the European Union (Directive 2000/84/EC: 01:00 UTC on the last Sunday of March and October)
and worked examples of PEP 495."""

import numpy as np
import pytest

from pooling.errors import InvalidInput
from pooling.importing.clock import falls, in_utc, steps_back, zone_of

HOUR = np.timedelta64(3600, "s")


def stamps(*texts):
    return np.array(texts, "datetime64[s]")


def every(start, end, minutes):
    return np.arange(np.datetime64(start, "s"), np.datetime64(end, "s"), np.timedelta64(60 * minutes, "s"))


def shown(utc, hours_before, hours_after, change):
    """What a clock showed whose offset from UTC changed at an instant."""
    return np.where(utc < np.datetime64(change), utc + hours_before * HOUR, utc + hours_after * HOUR)


@pytest.mark.parametrize("zone", ["Europe/Lisbon", "Europe/Berlin", "Europe/Warsaw"])
@pytest.mark.parametrize("minutes", [1, 5, 15])
@pytest.mark.parametrize("newest_first", [False, True], ids=["rising", "falling"])
def test_a_night_in_which_the_clock_is_put_back_runs_on(zone, minutes, newest_first):
    utc = every("2031-10-25T20:00", "2031-10-26T06:00", minutes)
    ahead = 0 if zone == "Europe/Lisbon" else 1
    wall = shown(utc, ahead + 1, ahead, "2031-10-26T01:00")
    order = slice(None, None, -1) if newest_first else slice(None)
    running = in_utc(wall[order], zone)
    np.testing.assert_array_equal(running.time, utc[order])
    assert running.repeated.size == 2 * 60 // minutes
    assert running.missing.size == 0


def test_a_night_in_which_the_clock_is_put_forward_runs_on():
    utc = every("2031-03-29T20:00", "2031-03-30T06:00", 5)
    running = in_utc(shown(utc, 1, 2, "2031-03-30T01:00"), "Europe/Berlin")
    np.testing.assert_array_equal(running.time, utc)
    assert running.repeated.size == running.missing.size == 0


def test_a_time_in_the_missing_hour_is_of_a_clock_not_yet_put_forward():
    running = in_utc(stamps("2031-03-30T01:55", "2031-03-30T02:05", "2031-03-30T03:10"), "Europe/Berlin")
    assert running.time.tolist() == stamps("2031-03-30T00:55", "2031-03-30T01:05", "2031-03-30T01:10").tolist()
    assert running.missing.tolist() == [1]


def test_pep_495_examples():
    """PEP 495: in US Eastern, 2014-11-02 01:30 happened twice, first at 05:30 UTC, then at 06:30 UTC; and 2015-03-08
    02:30 did not happen and is read with the offset before, as 07:30 UTC."""
    twice = in_utc(stamps("2014-11-02T01:29", "2014-11-02T01:30", "2014-11-02T01:29", "2014-11-02T01:30"), "US/Eastern")
    assert twice.time[1::2].tolist() == stamps("2014-11-02T05:30", "2014-11-02T06:30").tolist()
    never = in_utc(stamps("2015-03-08T02:30"), "US/Eastern")
    assert never.time.tolist() == stamps("2015-03-08T07:30").tolist()


def test_half_an_hour_of_change_too():
    """Lord Howe Island moves its clocks by thirty minutes (time-zone database, file australasia)."""
    utc = every("2031-04-05T12:00", "2031-04-05T18:00", 10)
    wall = np.where(utc < np.datetime64("2031-04-05T15:00"), utc + 11 * HOUR, utc + 21 * HOUR // 2)
    np.testing.assert_array_equal(in_utc(wall, "Australia/Lord_Howe").time, utc)


@pytest.mark.parametrize("name", ["no/where", "", "../../etc/passwd", "/etc/localtime", "x" * 5000, "\x00"])
def test_an_unknown_zone_is_refused(name):
    with pytest.raises(InvalidInput, match="Europe/Lisbon"):
        zone_of(name)


def test_steps_back_are_seen_in_lists_in_order_and_nowhere_else():
    utc = every("2031-10-25T20:00", "2031-10-26T06:00", 5)
    wall, numbers = shown(utc, 1, 0, "2031-10-26T01:00"), 100.0 + np.arange(utc.size)
    assert steps_back(wall, numbers).tolist() == [int(np.searchsorted(utc, np.datetime64("2031-10-26T01:00")))]
    assert steps_back(wall[::-1], numbers).size == 1
    assert falls(wall[::-1])
    assert not falls(wall)
    assert steps_back(utc, numbers).size == 0
    assert steps_back(np.random.default_rng(3).permutation(utc), numbers).size == 0
    assert steps_back(wall[:10], numbers[:10]).size == 0


def test_exports_that_overlap_are_no_step_back():
    utc, numbers = every("2031-10-25T20:00", "2031-10-26T06:00", 5), 100.0 + np.arange(120)
    twice = np.r_[0:80, 65:120]
    assert steps_back(utc[twice], numbers[twice]).size == 0
    numbers[3:7] = np.nan
    assert steps_back(utc[twice], numbers[twice]).size == 0
    assert steps_back(utc[twice], np.arange(float(twice.size))).tolist() == [80]
