import pytest

from pooling.importing.rows import Rows, regular

HEAD = (("a note",), ("time", "glucose", "more"))
BODY = (("1", "2"), ("3", "4"), ("5", "6"))
ROWS = Rows(HEAD, [cell for row in BODY for cell in row], 2)


def test_they_are_what_a_tuple_of_rows_is():
    plain = HEAD + BODY
    assert plain == ROWS
    assert len(ROWS) == len(plain)
    assert [ROWS[k] for k in range(-5, 5)] == [plain[k] for k in range(-5, 5)]
    assert list(ROWS) == list(plain)
    assert ("3", "4") in ROWS
    assert plain.index(("3", "4")) == ROWS.index(("3", "4"))


@pytest.mark.parametrize("start", range(6))
@pytest.mark.parametrize("stop", [None, 2, 4])
def test_slices(start, stop):
    part = ROWS[start:stop]
    assert tuple(part) == (HEAD + BODY)[start:stop]


def test_columns_and_width():
    assert ROWS.column(1) == ["", "glucose", "2", "4", "6"]
    assert ROWS.column(2) == ["", "more", "", "", ""]
    assert ROWS[2:].column(0) == ["1", "3", "5"]
    assert ROWS.widest == 3


def test_outside_there_is_nothing():
    with pytest.raises(IndexError):
        ROWS[5]
    with pytest.raises(IndexError):
        ROWS[-6]


def test_no_cell_is_shown():
    assert "glucose" not in repr(ROWS)
    assert "4" not in repr(ROWS)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("1;2\n3;4", ([], ["1", "2", "3", "4"], 2)),
        ("1;2\n3;4\n\n", ([], ["1", "2", "3", "4"], 2)),
        ("a\n\nb;c\n1;é\n3;4\n5;6", (["a", ""], ["b", "c", "1", "é", "3", "4", "5", "6"], 2)),
        ("1;2\n3;4\n5", None),
        ("1;2\n;4\n5;6", None),
        ("1;2\n3;4;5\n5;6", None),
        ("1\n2\n3", None),
        ("", None),
    ],
    ids=str,
)
def test_texts_that_are_regular_and_others(text, found):
    assert regular(text, ";") == found


def test_a_separator_beyond_ascii_is_left_to_others():
    assert regular("1¦2\n3¦4", "¦") is None
