import numpy as np
import pytest
from msgspec.structs import replace

from pooling.errors import InvalidInput
from pooling.importing import ColumnMapping, kinds_of, read_series
from pooling.importing.types import ABOVE, BELOW, NUMBER, Sheet

MAPPING = ColumnMapping("sensor", 1, ("moment", "glucose"), "mg/dL", None, ".", None, ())


def read(*rows, **settings):
    cells = (("time", "glucose"), *(tuple(row.split(";")) for row in rows))
    return read_series(Sheet("", cells, tuple(range(1, len(cells) + 1))), replace(MAPPING, **settings))


def test_numbers_and_marks_in_time_order():
    series = read("2031-03-01 08:10;HI", "2031-03-01 08:00;112", "2031-03-01 08:05;LO")
    assert series.time.astype(str).tolist() == [f"2031-03-01T08:{minute}:00" for minute in ("00", "05", "10")]
    np.testing.assert_array_equal(series.mg_dl, [112, np.nan, np.nan])
    assert series.mark.tolist() == [NUMBER, BELOW, ABOVE]
    assert series.line.tolist() == [3, 4, 2]
    assert series.n_readings == 3


def test_mmol_l_become_mg_dl():
    """10.0 mmol/L are 180.156 mg/dL: molar mass 180.156 g/mol (LOINC group LG7967-5)."""
    assert read("2031-03-01 08:00;10.0", glucose_unit="mmol/L").mg_dl.tolist() == pytest.approx([180.156])


def test_what_is_no_reading_is_left_out():
    rows = (
        "2031-03-01 08:00;112",
        "2031-03-01 08:05;",
        "2031-03-01 08:10;---",
        "time;glucose",
        "Total;224",
        "the end;",
    )
    assert read(*rows).line.tolist() == [2]


def test_a_repeated_row_counts_once_for_a_sensor_and_twice_for_a_meter():
    rows = (
        "2031-03-01 08:00;112",
        "2031-03-01 08:00;112",
        "2031-03-01 08:00;115",
        "2031-03-01 08:05;LO",
        "2031-03-01 08:05;LO",
    )
    assert read(*rows).n_readings == 3
    assert read(*rows, kind="meter").n_readings == 5


@pytest.mark.parametrize(
    ("rows", "settings", "said"),
    [
        (["2031-03-01 08:00;lunch"], {}, "line 2, column 2: neither a number nor a word"),
        (["2031-03-01 08:00;5,4"], {}, "line 2, column 2: neither a number"),
        (["2031-03-01 08:00;112", ";113"], {}, "line 3: a reading without a date"),
        (["2031-03-01 08:00;112", "2031-02-30 08:00;113"], {}, "line 3: a reading without a date"),
        (["2031-03-01 08:00;112", "2031-03-01 08:05;5.4"], {}, "line 3, column 2: outside 18 to 600 mg/dL"),
        (["2031-03-01 08:00;112"], {"glucose_unit": None}, "mg/dL or mmol/L"),
        (["2031-03-01 08:00;112"], {"kind": "typed"}, "read_typed"),
        (["2031-03-01 08:00;112"], {"roles": ("moment", "reference")}, "no column holds the readings of the sensor"),
        (["2031-03-01 08:00;"], {}, "no reading of the sensor was found"),
        (["03/04/2031 08:00;112"], {}, "day and month"),
    ],
)
def test_what_cannot_be_read_is_refused_with_its_place_and_without_its_value(rows, settings, said):
    with pytest.raises(InvalidInput, match=said) as caught:
        read(*rows, **settings)
    assert not {"lunch", "5,4", "5.4", "113", "112"} & set(str(caught.value).replace(";", " ").split())


def test_a_clock_put_back_is_refused_until_the_zone_is_named():
    times = [(hour, minute) for hour in (0, 1, 1, 2) for minute in range(0, 60, 5)]
    rows = [f"2031-10-26 {hour:02}:{minute:02};{100 + place}" for place, (hour, minute) in enumerate(times)]
    with pytest.raises(InvalidInput, match="line 26: the clock goes back"):
        read(*rows)
    series = read(*rows, time_zone="Europe/Lisbon")
    assert np.unique(np.diff(series.time)).tolist() == [np.timedelta64(300, "s")]
    assert series.line.tolist() == list(range(2, 50))


def test_a_table_with_both_instruments_is_read_twice():
    cells = (("t", "sensor", "finger"), ("2031-03-01 08:00", "98", "112"), ("2031-03-01 08:05", "99", ""))
    sheet = Sheet("", cells, (1, 2, 3))
    mapping = replace(MAPPING, roles=("moment", "sensor", "reference"))
    assert kinds_of(mapping) == ("sensor", "meter")
    sensor, meter = (read_series(sheet, replace(mapping, kind=kind)) for kind in kinds_of(mapping))
    assert sensor.mg_dl.tolist() == [98, 99]
    assert meter.mg_dl.tolist() == [112]
    assert kinds_of(replace(mapping, kind="typed")) == ("typed",)
    assert kinds_of(MAPPING) == ("sensor",)


def test_no_reading_stands_in_a_repr_and_none_can_be_changed():
    series = read("2031-03-01 08:00;112")
    assert "112" not in repr(series)
    with pytest.raises(ValueError, match="read-only"):
        series.mg_dl[0] = 5
