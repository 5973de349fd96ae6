import pytest

from server.web.lines import FIRST_LINES, number
from server.web.timed import Form as Timed
from server.web.typed import Form as Typed


@pytest.mark.parametrize(
    ("asked", "n_rows"),
    [("3", 3), ("100000", Typed.MOST), ("9" * 5000, Typed.MOST), ("-1", 10), ("x", 10), ("²", 10)],
    ids=str,
)
def test_the_number_of_lines_is_held_to_what_a_page_can_hold(asked, n_rows):
    assert len(Typed.read({"rows": asked}, unit="mg/dL").rows) == n_rows


@pytest.mark.parametrize("page", [Timed, Typed], ids=["timed", "typed"])
def test_more_lines_come_below_up_to_a_limit(page):
    form = page.read({"rows": str(page.MOST - 5), "day-1": "3"}, unit="mg/dL")
    assert [row.number for row in form.with_room.rows] == list(range(1, page.MOST + 1))
    assert form.with_room.rows[0] == form.rows[0]


def test_a_page_that_was_only_opened_has_some_blank_lines_and_an_unknown_unit_is_that_of_the_reader():
    form = Typed.read({"unit": "stones"}, unit="mmol/L")
    assert form == Typed.empty("mmol/L")
    assert (form.unit, len(form.rows), form.n_faults) == ("mmol/L", FIRST_LINES, 0)
    assert all(row.blank for row in form.rows)


@pytest.mark.parametrize("text", ["", "abc", "nan", "inf", "1,2,3"])
def test_what_is_no_number_is_none(text):
    assert number(text) is None
    assert number("6,2") == 6.2
