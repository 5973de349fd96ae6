"""Where lines are cut. Quoting as in RFC 4180, section 2."""

import pytest

from pooling.errors import InvalidInput
from pooling.importing.separators import cut, separator_of

MOMENTS = [f"2031-03-01 08:{minute:02}" for minute in range(20)]


@pytest.mark.parametrize("separator", [";", ",", "\t", "|", "~", "^", "*", "&", "!"])
def test_any_separator(separator):
    lines = [f"time{separator}glucose", *(f"{moment}{separator}112" for moment in MOMENTS)]
    assert separator_of(lines, "") == (separator, '"')


@pytest.mark.parametrize(
    ("line", "separator"),
    [
        ("01.03.2031 08:{0:02};5,{1}", ";"),
        ("01.03.2031 08:{0:02}\t5,{1}\tcalm, at home", "\t"),
        ('01.03.2031 08:{0:02},"5,{1}"', ","),
        ("1 mars 2031 08:{0:02};112;a, b; c", ";"),
        ("2031-03-01 08:{0:02} 11{1}", " "),
        ("2031-03-01   08:{0:02}     11{1}", "  "),
        ("March 1, 2031 08:{0:02};11{1}", ";"),
        ("08:{0:02}/2031-03-01|11{1}|a/b/c", "|"),
    ],
)
def test_marks_inside_cells_do_not_mislead(line, separator):
    assert separator_of([line.format(k, k % 10) for k in range(20)], "")[0] == separator


def test_a_preamble_does_not_mislead():
    lines = ["Readings, all of them, as asked for", "", "time;glucose", *(f"{moment};112" for moment in MOMENTS)]
    assert separator_of(lines, "")[0] == ";"


def test_single_quotation_marks():
    assert separator_of(["'time','note'", *(f"'{moment}','a, b'" for moment in MOMENTS)], "") == (",", "'")
    assert separator_of(["time,note", *(f"{moment},it's" for moment in MOMENTS)], "") == (",", '"')


@pytest.mark.parametrize("lines", [["12"] * 5, ["time", "glucose"], ["...", "---"], [""]])
def test_lines_that_nothing_cuts_are_refused(lines):
    with pytest.raises(InvalidInput, match="export it as CSV"):
        separator_of(lines, "")


def test_rfc_4180_examples():
    records = ["aaa,bbb,ccc", '"aaa","bbb","ccc"', '"aaa","b', 'bb","ccc"', '"aaa","b""bb","ccc"']
    numbers, rows = cut(records, ",", '"')
    assert rows == [("aaa", "bbb", "ccc"), ("aaa", "bbb", "ccc"), ("aaa", "b\nbb", "ccc"), ("aaa", 'b"bb', "ccc")]
    assert numbers == [1, 2, 3, 5]


def test_a_quotation_mark_without_an_end_is_refused_with_its_line():
    with pytest.raises(InvalidInput, match="line 3: a quotation mark"):
        cut(["a,b", "1,2", '"x,3', "4,5", "6,7"], ",", '"')


def test_spaces_of_any_number_are_one_separator():
    assert cut(["  a   b c    d "], "  ", '"')[1] == [("a", "b c", "d")]
    assert cut(["  a   b c    d "], " ", '"')[1] == [("a", "b", "c", "d")]
