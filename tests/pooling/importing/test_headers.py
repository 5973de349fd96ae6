import pytest

from pooling.importing.headers import SEARCHED_ROWS, first_reading, header_before

READING = ("01.03.2031 08:00", "112")


@pytest.mark.parametrize(
    ("rows", "start"),
    [
        ([READING], 0),
        ([("Made", "2031-03-16 09:00"), ("time", "glucose"), READING, READING], 2),
        ([("2031-03-01", "14"), ("a", "b"), ("c", "d"), ("e", "f"), READING, READING], 4),
        ([("wear", "elapsed", "sensor"), ("one", "36:30", "98"), ("one", "x", "LO"), ("one", "40:00", "99")], 1),
        ([("a", "b")] * SEARCHED_ROWS + [READING], None),
        ([("112",), ("113",)], None),
        ([], None),
    ],
)
def test_where_the_readings_begin(rows, start):
    assert first_reading(rows) == start


@pytest.mark.parametrize(
    ("before", "header"),
    [
        ([], None),
        ([("time", "glucose")], 0),
        ([("time", "glucose"), ("", "mg/dL")], 0),
        ([("Readings, all of them",), ("time", "glucose")], 1),
        ([("aika", "arvo")], 0),
        ([("only one",)], None),
    ],
)
def test_which_row_is_the_header(before, header):
    assert header_before([*before, READING], len(before)) == header
