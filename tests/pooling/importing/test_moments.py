"""Dates and times. RFC 3339 examples are those of its section 5.8."""

import numpy as np
import pytest

from pooling.importing.moments import NO_OFFSET, NO_TIME, moments, orders_left, take_apart


def read(cell, order=None):
    parts = take_apart([cell])
    day = moments(parts, order)[0]
    second = int(parts.second[0])
    return str(day), None if second == NO_TIME else f"{second // 3600:02}:{second // 60 % 60:02}:{second % 60:02}"


@pytest.mark.parametrize(
    ("cell", "time", "offset_min"),
    [
        ("1985-04-12T23:20:50.52Z", "23:20:50", 0),
        ("1996-12-19T16:39:57-08:00", "16:39:57", -480),
        ("1990-12-31T23:59:60Z", "24:00:00", 0),
        ("1990-12-31T15:59:60-08:00", "16:00:00", -480),
    ],
)
def test_rfc_3339(cell, time, offset_min):
    parts = take_apart([cell])
    assert read(cell) == (cell[:10], time)
    assert parts.offset_min[0] == offset_min


# The same moment, 1 March 2031 at 20:05, as people of nine languages write it (from memory).
@pytest.mark.parametrize(
    "cell",
    [
        *("2031-03-01 20:05", "2031-03-01T20:05", "20310301T2005", "2031/3/1 20:05:00", "2031. 03. 01. 20:05"),
        *("March 1, 2031 8:05 PM", "Mar 1 2031, 8:05 pm", "1st March 2031 20:05", "Saturday, March 1, 2031 8:05 PM"),
        *(
            "01.03.2031 20:05",
            "1.3.31 20:05",
            "1. März 2031 um 20:05 Uhr",
            "Sa, 01.03.2031 20:05",
            "1. Mrz. 2031 20.05",
        ),
        *("1 mars 2031 à 20h05", "1er mars 2031 20h05", "sam. 1 mars 2031 20:05"),
        *("1 de marzo de 2031, 20:05", "1 marzo 2031 8:05 p. m.", "1-mar-2031 20:05"),
        *("1 marzo 2031 alle 20:05", "1 mrt 2031 20:05", "1 maart 2031 om 20:05 uur"),
        *("1 de março de 2031 às 20:05", "1 mar. 2031 20h05min", "1 marca 2031 o 20:05", "1 mars 2031 kl. 20.05"),
        *("20:05 01.03.2031", "8:05 PM 2031-03-01", "\u20091.3.2031\u00a020:05\u2009", "01.03.2031;20:05"),
    ],
)
def test_one_moment_in_nine_languages(cell):
    assert read(cell) == ("2031-03-01", "20:05:00")


@pytest.mark.parametrize(
    ("cell", "time"),
    [
        ("12:00 AM", "00:00:00"),
        ("12:30 a.m.", "00:30:00"),
        ("12:00 PM", "12:00:00"),
        ("11:59:59 PM", "23:59:59"),
        ("8 PM", "20:00:00"),
        ("8:05 fm", "08:05:00"),
        ("8:05 em", "20:05:00"),
        ("8:05 nachm.", "20:05:00"),
        ("24:00", "24:00:00"),
    ],
)
def test_clocks_of_twelve_and_of_twenty_four_hours(cell, time):
    assert read(cell) == ("NaT", time)


@pytest.mark.parametrize(
    "cell", ["", " ", "24:01", "25:00", "12:60", "7", "lunch", "2031-03-01x", "03/2031", "12:00 XM", "٠٨:٠٥", "1" * 80]
)
def test_what_is_no_time_is_none(cell):
    assert read(cell) == ("NaT", None)


@pytest.mark.parametrize("cell", ["2031-02-29", "2031-13-01", "31.04.2031", "0.1.2031", "2031-00-10", "1850-01-01"])
def test_days_that_do_not_exist_are_none(cell):
    assert read(cell)[0] == "NaT"


def test_a_leap_day_exists():
    assert read("29.02.2032")[0] == "2032-02-29"


def test_zones_by_abbreviation():
    cells = ["2031-03-01 08:00 CET", "2031-07-01 08:00 CEST", "2031-07-01 08:00 MESZ", "2031-07-01 08:00 XYZ"]
    assert take_apart(cells).offset_min.tolist() == [60, 120, 120, NO_OFFSET]
    assert take_apart(["2031-03-01T08:00+01:00[Europe/Berlin]"]).offset_min.tolist() == [60]


@pytest.mark.parametrize(
    ("cells", "orders"),
    [
        (["03/04/2031", "25/04/2031"], "day_first"),
        (["04/03/2031", "04/25/2031"], "month_first"),
        (["31/03/01", "31/03/02", "31/03/03"], "year_first"),
        (["31/03/01", "31/03/02"], "day_first year_first"),
        (["01.02.2031"], "year_first"),
        (["2031-01-02"], "year_first"),
        (["04/04/2031"], "day_first"),
        (["03/04/2031", "04/04/2031", "05/04/2031"], "day_first"),
        (["04/03/2031", "04/04/2031", "04/05/2031"], "month_first"),
        (["03/04/2031"], "day_first month_first"),
        (["03/04/2031", "04/05/2031"], "day_first month_first"),
        (["04/11/2031", "04/12/2031", "05/01/2031"], "day_first month_first"),
    ],
    ids=str,
)
def test_the_order_is_decided_from_the_whole_column(cells, orders):
    assert orders_left(take_apart(cells)) == tuple(orders.split())


def test_one_impossible_cell_does_not_turn_the_column_round():
    cells = ["12/25/2031"] + [f"{day}/10/2031" for day in range(13, 28)]
    assert orders_left(take_apart(cells)) == ("day_first",)


@pytest.mark.parametrize("order", ["day_first", "month_first", "year_first"])
def test_columns_of_one_shape_and_of_many_agree(order):
    cells = [f"{1 + k % 12:02}/{1 + k % 11:02}/{31 + k % 9:02} {k % 24:02}:{k % 60:02}" for k in range(300)]
    alone = take_apart(cells)
    among = take_apart([*cells, "x", "1 mars 2031"])
    for part in ("year", "month", "day", "second", "dated"):
        np.testing.assert_array_equal(getattr(alone, part), getattr(among, part)[:300])
    np.testing.assert_array_equal(moments(alone, order), moments(among, order)[:300])


def test_a_cell_with_the_inner_separator_is_just_another_cell():
    assert take_apart(["2031-03-01\x1f08:00", "2031-03-01 08:00"]).timed.tolist() == [True, True]
    assert take_apart([]).second.size == 0
