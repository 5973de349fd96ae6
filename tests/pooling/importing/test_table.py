import numpy as np
import pytest

from pooling.errors import InvalidInput
from pooling.importing.table import Table, column_of
from pooling.importing.types import INSERTION, ColumnMapping, Sheet


def table(head, *rows, roles, **settings):
    told = {
        "kind": "sensor",
        "header_line": 1,
        "glucose_unit": "mg/dL",
        "date_order": None,
        "decimal": ".",
        "time_zone": None,
    }
    mapping = ColumnMapping(**(told | settings), roles=tuple(roles.split()), header_hash_input=())
    cells = tuple(tuple(row.split(";")) for row in (head, *rows))
    return Table(Sheet("", cells, tuple(range(1, len(cells) + 1))), mapping)


def times(*rows, roles="moment", **settings):
    return [None if np.isnat(time) else str(time) for time in table("x", *rows, roles=roles, **settings).times()]


def test_a_moment_in_one_cell_or_two():
    assert times("01.03.2031 08:05") == ["2031-03-01T08:05:00"]
    assert times("01.03.2031;8:05 PM", roles="date time_of_day") == ["2031-03-01T20:05:00"]


def test_a_day_written_once_holds_for_the_rows_below():
    rows = ("01.03.2031;08:05", ";09:05", ";", "02.03.2031;00:05", ";01:05")
    assert times(*rows, roles="date time_of_day") == [
        "2031-03-01T08:05:00",
        "2031-03-01T09:05:00",
        None,
        "2031-03-02T00:05:00",
        "2031-03-02T01:05:00",
    ]


def test_midnight_may_lack_its_time_but_a_column_of_days_has_none():
    assert times("2031-03-01 23:55", "2031-03-02", "2031-03-02 00:05")[1] == "2031-03-02T00:00:00"
    assert times("2031-03-01", "2031-03-02", "2031-03-03 08:00")[:2] == [None, None]


def test_offsets_are_told_with_the_first_unless_a_zone_is_named():
    rows = ("2031-10-26T01:30+01:00", "2031-10-26T01:30+00:00", "2031-10-26 03:00")
    assert times(*rows) == ["2031-10-26T01:30:00", "2031-10-26T02:30:00", "2031-10-26T03:00:00"]
    assert times(*rows, time_zone="Europe/Berlin") == [
        "2031-10-26T00:30:00",
        "2031-10-26T01:30:00",
        "2031-10-26T02:00:00",
    ]


@pytest.mark.parametrize(
    ("head", "cell", "minutes"),
    [
        ("elapsed", "90", 90),
        ("elapsed (h)", "1,5", 90),
        ("Stunden seit Beginn", "36", 2160),
        ("jours depuis la pose", "1.5", 2160),
        ("since", "36:30", 2190),
        ("since", "1d 12:30", 2190),
        ("since", "2 days", 2880),
        ("since", "3 h", 180),
    ],
)
def test_time_since_insertion(head, cell, minutes):
    assert table(head, cell, roles="elapsed").times() - INSERTION == np.timedelta64(minutes * 60, "s")


def test_an_order_that_cannot_be_told_is_asked_for_with_lines():
    with pytest.raises(InvalidInput, match="lines 2, 3, column 1: day and month"):
        times("03/04/2031 08:00", "05/06/2031 08:00")
    assert times("03/04/2031 08:00", date_order="month_first") == ["2031-03-04T08:00:00"]


def test_totals_and_repeated_headers_are_excused():
    rows = ("2031-03-01 08:00;112", "Time;Glucose", "Durchschnitt;140", "2031-03-01 08:05;x")
    seen = table("time;glucose", *rows, roles="moment glucose")
    assert [seen.excused(place) for place in range(4)] == [False, True, True, False]


@pytest.mark.parametrize(
    ("settings", "said"),
    [
        ({"roles": "moment moment"}, "two columns have the role 'moment'"),
        ({"roles": "moment colour"}, "a role that does not exist"),
        ({"roles": "moment", "date_order": "backwards"}, "order of dates"),
        ({"roles": "moment", "decimal": "'"}, "decimal sign"),
        ({"roles": "date"}, "no column says when"),
        ({"roles": "moment", "time_zone": "nowhere"}, "no such time zone"),
    ],
)
def test_a_mapping_that_cannot_be_is_refused(settings, said):
    with pytest.raises(InvalidInput, match=said):
        times("2031-03-01 08:00", **settings)


def test_a_column_is_read_once_for_each_way_of_reading_it():
    seen = table("time;glucose", "2031-03-01 08:00;5,4", roles="moment glucose")
    assert seen.read(1) is seen.read(1)
    assert seen.parts(0) is seen.parts(0)
    assert Table(seen.sheet, seen.mapping).read(1) is seen.read(1)
    comma = table("time;glucose", "2031-03-01 08:00;5,4", roles="moment glucose", decimal=",")
    assert comma.read(1).number.tolist() == [5.4]


def test_short_rows_have_empty_cells():
    assert column_of((("a",), ("b", "c"), ()), 1) == ["", "c", ""]
