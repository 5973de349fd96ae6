import pytest
from msgspec.structs import replace

from pooling.importing import open_file, propose, remarks

OFFSETS = "time;glucose\n" + "".join(
    f"2031-10-26T{hour:02}:{minute:02}+0{offset}:00;{100 + minute}\n"
    for hour, offset in ((0, 1), (1, 1), (1, 0), (2, 0))
    for minute in range(0, 60, 5)
)
PLAIN = OFFSETS.replace("+01:00", "").replace("+00:00", "")


def table(text):
    (sheet,) = open_file(text.encode())
    return sheet, propose(sheet)


def test_offsets_that_change_are_said_without_asking():
    sheet, proposal = table(OFFSETS)
    (said,) = proposal.questions
    assert not said.blocking
    assert "offset" in said.text
    assert remarks(sheet, replace(proposal.mapping, time_zone="Europe/Lisbon")) == ()


def test_the_repeated_hour_is_said_with_its_lines():
    sheet, proposal = table(PLAIN)
    (said,) = remarks(sheet, replace(proposal.mapping, time_zone="Europe/Lisbon"))
    assert not said.blocking
    assert "twice" in said.text
    assert said.lines == tuple(range(14, 24))


def test_the_missing_hour_is_said_with_its_lines():
    rows = [f"2031-03-30 0{hour}:{minute:02};{100 + minute}" for hour in range(5) for minute in range(0, 60, 5)]
    sheet, proposal = table("time;sensor\n" + "\n".join(rows) + "\n")
    (said,) = remarks(sheet, replace(proposal.mapping, time_zone="Europe/Lisbon"))
    assert "left out" in said.text
    assert said.lines[0] == 14


@pytest.mark.parametrize("newest_first", [False, True])
def test_a_date_that_changes_too_late_is_said_with_its_lines(newest_first):
    clock = [f"{minute // 60:02}:{minute % 60:02}" for minute in range(0, 1440, 30)]
    days = [f"{day:02}.03.2031" for day in (1, 2, 3)]
    rows = [(day, time, 100 + 9 * at + 7 * n % 50) for at, day in enumerate(days) for n, time in enumerate(clock)]
    late = [(days[n // 48 - 1] if n >= 48 and n % 48 < 2 else day, *rest) for n, (day, *rest) in enumerate(rows)]

    def said_of(rows):
        rows = rows[::-1] if newest_first else rows
        sheet, proposal = table("date;time;sensor\n" + "".join(f"{d};{t};{g}\n" for d, t, g in rows))
        return [(one.code, one.lines, one.blocking) for one in remarks(sheet, proposal.mapping)]

    assert said_of(rows) == []
    assert said_of(late) == [("moment", (50, 98), False)]


def test_rows_without_order_and_exports_that_overlap_are_no_sign():
    rows = [f"2031-03-01 {minute // 60:02}:{minute % 60:02};{100 + minute % 37}\n" for minute in range(0, 1440, 15)]
    for text in ("".join(rows[:60] + rows[30:]), "".join(rows[::2] + rows[1::2][::-1])):
        sheet, proposal = table("time;sensor\n" + text)
        assert remarks(sheet, proposal.mapping) == ()


def test_nothing_is_said_where_nothing_was_settled():
    sheet, proposal = table("elapsed;sensor;meter\n60;100;110\n120;100;110\n")
    assert remarks(sheet, proposal.mapping) == ()
