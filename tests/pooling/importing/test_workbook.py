from datetime import UTC, datetime

import pytest

from fixtures.exports.workbooks import ods, xlsx
from pooling.errors import InvalidInput
from pooling.importing import limits
from pooling.importing.workbook import read_workbook

MOMENT = datetime(2031, 3, 1, 8, 5, tzinfo=UTC)
ROWS = [["time", "glucose"], [], [MOMENT, 112], [MOMENT, 5.4], [MOMENT, "LO"]]


@pytest.mark.parametrize("write", [xlsx, ods])
def test_cells_become_text_and_rows_keep_their_numbers(write):
    (sheet,) = read_workbook(write({"Trace": ROWS}))
    assert sheet.name == "Trace"
    assert sheet.rows == (
        ("time", "glucose"),
        ("2031-03-01 08:05:00", "112"),
        ("2031-03-01 08:05:00", "5.4"),
        ("2031-03-01 08:05:00", "LO"),
    )
    assert sheet.lines == (1, 3, 4, 5)


def test_dates_and_times_in_cells_of_their_own():
    (sheet,) = read_workbook(xlsx({"T": [[MOMENT.date(), MOMENT.time(), 5.4]]}))
    assert sheet.rows == (("2031-03-01", "08:05:00", "5.4"),)


def test_a_time_written_as_a_moment_of_the_first_day_is_a_time():
    (sheet,) = read_workbook(xlsx({"T": [[datetime(1899, 12, 31, 8, 5, tzinfo=UTC), 112]]}))
    assert sheet.rows == (("08:05:00", "112"),)


def test_binary_fractions_of_a_day_come_back_to_the_second():
    moments = [datetime(2031, 3, 1, hour, minute, tzinfo=UTC) for hour in range(24) for minute in range(0, 60, 7)]
    (sheet,) = read_workbook(xlsx({"T": [[moment, 112] for moment in moments]}))
    assert [row[0] for row in sheet.rows][1:] == [f"{moment:%Y-%m-%d %H:%M:%S}" for moment in moments][1:]
    assert sheet.rows[0][0] == "2031-03-01", "midnight is a whole number of days, and a date"


@pytest.mark.parametrize("write", [xlsx, ods])
def test_sheets_without_anything_are_left_out(write):
    names = [sheet.name for sheet in read_workbook(write({"Empty": [], "One": [["a", "b"]], "Two": [["c"]]}))]
    assert names == ["One", "Two"]
    with pytest.raises(InvalidInput, match="no sheet with anything"):
        read_workbook(write({"Empty": []}))


def test_too_many_sheets_are_refused():
    with pytest.raises(InvalidInput, match="21 sheets"):
        read_workbook(xlsx({f"S{k}": [["a"]] for k in range(limits.MAX_SHEETS + 1)}))


def test_another_archive_is_no_workbook():
    from tests.pooling.importing.test_archive import packed

    with pytest.raises(InvalidInput, match="damaged or of another kind"):
        read_workbook(packed({"readings.csv": b"a,b"}))
