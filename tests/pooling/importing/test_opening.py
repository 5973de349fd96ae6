import pytest

from pooling.errors import InvalidInput
from pooling.importing import limits, open_file


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "empty"),
        (b" \r\n\t ", "empty"),
        (b"%PDF-1.7 \n", "printing"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1", "old or locked workbook"),
        (b"\x1f\x8b\x08", "unpack it first"),
        (b'{"a": 1}', "JSON"),
        (b"<html><table>", "web page"),
        (b"PK\x03\x04 and nothing else", "damaged"),
        (b"x" * (limits.MAX_BYTES + 1), "20,000,001 bytes"),
    ],
    ids=["nothing", "blanks", "pages", "old", "packed", "json", "html", "damaged", "large"],
)
def test_files_of_another_kind_are_refused_with_what_to_do(data, said):
    with pytest.raises(InvalidInput, match=said):
        open_file(data)


def test_the_name_says_nothing_about_the_kind():
    (sheet,) = open_file(b"time;glucose\n08:00;112\n", filename="readings.xlsx")
    assert sheet.rows == (("time", "glucose"), ("08:00", "112"))
    assert sheet.name == ""


def test_no_cell_stands_in_a_repr():
    (sheet,) = open_file(b"time;glucose\n08:00;112\n")
    assert "112" not in repr(sheet)
    assert "glucose" not in repr(sheet)


@pytest.mark.parametrize("content", [b'""\t ', b'""\t""\n\t\n'])
def test_cells_without_anything_in_them_are_no_table(content):
    with pytest.raises(InvalidInput, match="no cell of this file has anything in it"):
        open_file(content, filename="a.tsv")
