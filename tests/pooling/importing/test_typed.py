import numpy as np
import pytest
from msgspec.structs import replace

from pooling.errors import InvalidInput
from pooling.importing import ColumnMapping, read_typed
from pooling.importing.types import Sheet
from pooling.record import MAX_PAIRS

INSERTED = np.datetime64("2031-03-01T07:00", "s")
DAY = np.timedelta64(86_400, "s")


def read(roles, *rows, inserted=(), **settings):
    mapping = ColumnMapping("typed", None, tuple(roles.split()), "mg/dL", None, ".", None, ())
    cells = tuple(tuple(row.split(";")) for row in rows)
    sheet = Sheet("", cells, tuple(range(1, len(cells) + 1)))
    return read_typed(sheet, replace(mapping, **settings), inserted=inserted)


def test_one_wear_with_a_told_insertion():
    (wear,) = read("moment sensor reference", "2031-03-01 09:30;98;112", "2031-03-01 08:00;LO;62", inserted=[INSERTED])
    assert (wear.label, wear.site, wear.inserted, wear.ended) == ("1", None, INSERTED, None)
    first, second = wear.pairs
    assert (first.elapsed_min, first.reference, first.sensor, first.sensor_mark) == (60, 62, None, "below")
    assert (second.elapsed_min, second.reference, second.sensor, second.sensor_mark) == (150, 112, 98, None)
    assert {pair.source for pair in wear.pairs} == {"display"}
    assert {pair.prompt for pair in wear.pairs} == {"other"}


def test_wears_are_split_by_told_insertions():
    rows = [f"2031-03-{day:02} 08:00;98;112" for day in range(1, 7)]
    wears = read("moment sensor reference", *rows, inserted=[INSERTED + 3 * DAY, INSERTED])
    assert [wear.inserted for wear in wears] == [INSERTED, INSERTED + 3 * DAY]
    assert [[pair.elapsed_min for pair in wear.pairs] for wear in wears] == [[60, 1500, 2940]] * 2


def test_wears_are_split_by_a_label_written_once_each():
    rows = (
        "arm;01.03.2031 07:00;01.03.2031 08:00;98;112",
        ";;01.03.2031 09:00;99;113",
        "leg;02.03.2031 07:00;02.03.2031 08:00;97;111",
    )
    first, second = read("wear inserted moment sensor reference", *rows)
    assert (first.label, len(first.pairs), second.label, len(second.pairs)) == ("arm", 2, "leg", 1)
    assert second.inserted == INSERTED + DAY


def test_lines_that_make_no_pair_are_named():
    rows = ("30;98;112", "60;;113", "90;99;", "120;97;HI", "150;HI;390")
    (wear,) = read("elapsed sensor reference", *rows)
    assert wear.left_out == (2, 3, 4)
    assert [pair.sensor_mark for pair in wear.pairs] == [None, "above"]


def test_site_reason_end_and_second_strip():
    (wear,) = read(
        "inserted moment sensor reference replicate prompt site ended",
        "2031-03-01 07:00;2031-03-01 08:00;98;112;114;Kalibrierung;Thigh front;2031-03-10 07:00",
        "2031-03-01 07:00;2031-03-01 09:00;98;112;;in doubt;;",
    )
    assert wear.site == "thigh.front"
    assert wear.ended == INSERTED + 9 * DAY
    assert [(pair.replicate, pair.prompt) for pair in wear.pairs] == [(114, "calibration"), (None, "doubt")]


@pytest.mark.parametrize(
    ("roles", "rows", "said"),
    [
        ("moment sensor reference", ["2031-03-01 08:00;98;112"], "say when the sensor was inserted"),
        ("elapsed sensor", ["30;98"], "no column holds the readings of the reference"),
        ("elapsed sensor reference", ["30;98;lunch"], "line 1, column 3: neither a number"),
        ("elapsed sensor reference", ["30;98;5.4"], "line 1, column 3: outside 18 to 600 mg/dL"),
        ("elapsed sensor reference", ["30;;"], "no pair was found"),
        ("elapsed sensor reference", ["x;98;112"], "line 1: a reading without a date"),
        ("elapsed sensor reference", ["43201;98;112"], "line 1: more than thirty days after"),
        ("inserted moment sensor reference", ["2031-03-01 07:00;2031-03-01 06:00;98;112"], "line 1: before the sensor"),
        ("wear inserted moment sensor reference", ["a;;2031-03-01 06:00;98;112"], "line 1: no time of insertion"),
        ("elapsed sensor reference site", ["1;98;112;calf", "2;98;112;chest"], "lines 1, 2: one wear on several sites"),
        ("elapsed sensor reference", ["1;98;112"] * (MAX_PAIRS + 1), "more than 2,000 pairs"),
    ],
    ids=lambda value: value[:40] if isinstance(value, str) else "",
)
def test_what_cannot_be_a_wear_is_refused(roles, rows, said):
    with pytest.raises(InvalidInput, match=said):
        read(roles, *rows)


def test_another_kind_is_refused():
    with pytest.raises(InvalidInput, match="read_series"):
        read("elapsed sensor reference", "30;98;112", kind="sensor")


def test_no_reading_stands_in_a_repr():
    (wear,) = read("elapsed sensor reference", "30;98;112")
    assert "98" not in repr(wear)


@pytest.mark.parametrize(
    ("cell", "site"),
    [
        ("upper arm, back", "upper_arm.back"),
        ("Back of upper arm", "upper_arm.back"),
        ("thigh.outer", "thigh.outer"),
        ("outer side of the thigh", "thigh.outer"),
        ("lower back", "lower_back"),
        ("thigh", None),
        ("belly", None),
        ("", None),
    ],
)
def test_a_site_is_known_by_its_words_in_any_order(cell, site):
    (wear,) = read("elapsed sensor reference site", f"1;98;112;{cell}")
    assert wear.site == site
