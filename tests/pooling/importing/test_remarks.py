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


def test_nothing_is_said_where_nothing_was_settled():
    sheet, proposal = table("elapsed;sensor;meter\n60;100;110\n120;100;110\n")
    assert remarks(sheet, proposal.mapping) == ()
