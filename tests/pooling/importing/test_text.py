import pytest

from pooling.errors import InvalidInput
from pooling.importing import limits
from pooling.importing.rows import Rows
from pooling.importing.text import read_text, sheet_of

LINES = "".join(f"2031-03-01 08:{minute:02};112\n" for minute in range(9))


def test_line_numbers_are_those_of_the_file():
    sheet = read_text(f"a note\n\n\ntime;glucose\n{LINES}".encode())
    assert sheet.lines == (1, 4, *range(5, 14))
    assert isinstance(sheet.rows, Rows)


def test_the_regular_way_and_the_general_way_agree():
    regular = read_text(f"time;glucose\n{LINES}".encode())
    general = read_text(f"time;glucose\n{LINES};\n".encode())
    assert not isinstance(general.rows, Rows)
    assert regular.rows == general.rows
    assert regular.lines == general.lines


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"], ids=["LF", "CR LF", "CR"])
def test_line_ends(end):
    sheet = read_text(f"time;glucose\n{LINES}".replace("\n", end).encode())
    assert sheet.lines == tuple(range(1, 11))
    assert sheet.rows[1] == ("2031-03-01 08:00", "112")


def test_blank_rows_are_gone_whatever_they_are_made_of():
    sheet = read_text(f"time;glucose\n;\n  \n; \n{LINES}".encode())
    assert sheet.lines == (1, *range(5, 14))


def test_a_line_that_names_the_separator():
    sheet = read_text(b"SEP=~\ntime~glucose\n08:00, at home~112\n")
    assert sheet.rows == (("time", "glucose"), ("08:00, at home", "112"))
    assert sheet.lines == (2, 3)


def test_the_name_of_the_file_decides_between_equals():
    data = b"08:00\t112;113\n" * 4
    assert read_text(data, "a.tsv").rows[0] == ("08:00", "112;113")


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"1;2\n" * (limits.MAX_ROWS + 5), "200,005 lines|200,006 lines"),
        (b";".join([b"1"] * (limits.MAX_COLUMNS + 1)) + b"\n1;2\n", "201 columns"),
        (b"time;note\n08:00;" + b"x" * (limits.MAX_CELL + 1) + b"\n", "line 2: a cell longer than 2,000"),
        (b'time;note\n08:00;"' + (b"x" * 100 + b"\n") * 30 + b'"\n', "line 2: a cell longer than 2,000"),
        (b" \n \n", "no separator|no row"),
    ],
    ids=["rows", "columns", "cell", "quoted cell", "blank"],
)
def test_what_is_too_much_is_refused(data, said):
    with pytest.raises(InvalidInput, match=said):
        read_text(data)


def test_what_is_just_allowed_is_read():
    assert len(read_text(b"1;2\n" * limits.MAX_ROWS).rows) == limits.MAX_ROWS
    assert read_text(b";".join([b"1"] * limits.MAX_COLUMNS) + b"\n").rows[0] == ("1",) * limits.MAX_COLUMNS
    assert len(sheet_of("", [1], [("x" * limits.MAX_CELL,)]).rows) == 1
