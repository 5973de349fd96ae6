import pytest
from msgspec.structs import replace

from pooling.importing import open_file, propose, read_series

TRACE = "".join(f"2031-03-01 08:{minute:02};{90 + minute}\n" for minute in range(0, 60, 5))
STICKS = "2031-03-01 08:00;112\n2031-03-01 10:00;140\n2031-03-01 14:00;131\n"


def test_two_tables_below_one_another():
    text = f"A report\n\nSensor\ntime;sensor mg/dL\n{TRACE}\n\nFingersticks\ntime;fingerstick mg/dL\n{STICKS}"
    trace, sticks = open_file(text.encode())
    assert [sheet.name for sheet in (trace, sticks)] == ["table 1", "table 2"]
    assert read_series(trace, propose(trace).mapping).mg_dl.tolist() == list(range(90, 150, 5))
    meter = read_series(sticks, propose(sticks).mapping)
    assert meter.mg_dl.tolist() == [112, 140, 131]
    assert meter.line.tolist() == [21, 22, 23]


@pytest.mark.parametrize(
    "text",
    [
        f"time;sensor\n{TRACE}",
        f"A report\n\nof one;wear\n\ntime;sensor\n\n{TRACE}",
        f"time;sensor\n{TRACE}\n\nTIME;Sensor\n{TRACE}",
        f"time;sensor\n{TRACE}\n\nAverage;120\n",
        f"time;sensor\n{TRACE}\n\ntime and date;glucose\nare given in;local time\n",
    ],
    ids=["plain", "preamble", "header again", "total", "closing words"],
)
def test_one_table_stays_one(text):
    (sheet,) = open_file(text.encode())
    assert sheet.name == ""
    mapping = replace(propose(sheet).mapping, kind="sensor")
    assert read_series(sheet, mapping).n_readings == 12
