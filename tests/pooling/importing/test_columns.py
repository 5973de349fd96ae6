import pytest

from pooling.importing.columns import look, roles_of, sample_of

MOMENTS = [f"2031-03-01 08:{minute:02}" for minute in range(0, 60, 5)]
DATES = [f"{day:02}.03.2031" for day in range(1, 13)]
TIMES = [f"8:{minute:02}" for minute in range(0, 60, 5)]
VALUES = [str(value) for value in range(100, 220, 10)]
WORDS = ["calm", "sport"] * 6


@pytest.mark.parametrize(
    ("header", "cells", "content"),
    [
        ("x", MOMENTS, "moment"),
        ("x", DATES, "date"),
        ("x", TIMES, "time_of_day"),
        ("time", ["20310301"] * 9, "date"),
        ("x", VALUES, "number"),
        ("x", ["LO", "5,4", "HI", "7,7 mmol/l"], "number"),
        ("x", ["LO", "HI"], "words"),
        ("glucose", ["5.40", "12.30"], "number"),
        ("Uhrzeit", ["5.40", "12.30"], "time_of_day"),
        ("x", WORDS, "words"),
        ("x", ["", " "], "empty"),
        ("x", [*MOMENTS, "Total", ""], "moment"),
        ("x", ["2031-03-01 00:00:00", "2031-03-02 00:00:00"], "date"),
    ],
)
def test_what_most_cells_are(header, cells, content):
    assert look(header, cells).content == content


def test_units_come_from_header_or_cells():
    assert look("glucose mg/dL", VALUES).unit == "mg/dL"
    assert look("glucose", ["5 mmol/L", "6 mmol/L"]).unit == "mmol/L"
    assert look("glucose", ["5 mmol/L", "112 mg/dL"]).unit is None


def looks(**columns):
    return [look(header.replace("_", " "), cells) for header, cells in columns.items()]


@pytest.mark.parametrize(
    ("columns", "roles"),
    [
        ({"time": MOMENTS, "glucose": VALUES}, ["moment", "glucose"]),
        ({"Datum": DATES, "Zeit": TIMES, "Fingerstich": VALUES}, ["date", "time_of_day", "reference"]),
        ({"a": MOMENTS, "b": VALUES}, ["moment", "glucose"]),
        ({"when": MOMENTS, "sensor": VALUES, "glycémie": VALUES}, ["moment", "sensor", "reference"]),
        ({"when": MOMENTS, "finger": VALUES, "glucose": VALUES}, ["moment", "reference", "sensor"]),
        ({"start time": MOMENTS, "glucose": VALUES}, ["moment", "glucose"]),
        ({"time": MOMENTS, "battery level": VALUES, "glucose": VALUES}, ["moment", "ignored", "glucose"]),
        ({"time": MOMENTS, "pulse": VALUES, "reading": VALUES}, ["moment", "ignored", "glucose"]),
        ({"time": MOMENTS, "steps": ["9000"] * 12, "value": VALUES}, ["moment", "ignored", "glucose"]),
        ({"exported": MOMENTS, "time": MOMENTS, "glucose": VALUES}, ["ignored", "moment", "glucose"]),
        ({"inserted": MOMENTS, "time": MOMENTS, "removed": MOMENTS, "sensor": VALUES, "finger": VALUES},
         ["inserted", "moment", "ended", "sensor", "reference"]),
        ({"elapsed_min": VALUES, "sensor": VALUES, "meter": VALUES}, ["elapsed", "sensor", "reference"]),
        ({"time": MOMENTS, "type": ["sensor", "fingerstick"] * 6, "glucose": VALUES},
         ["moment", "instrument", "glucose"]),
        ({"time": MOMENTS, "finger": VALUES, "second_finger_reading": VALUES, "sensor": VALUES},
         ["moment", "reference", "replicate", "sensor"]),
        ({"time": MOMENTS, "note": ["planned", "in doubt"] * 6, "site": WORDS, "wear": ["1"] * 12, "sensor": VALUES},
         ["moment", "prompt", "site", "wear", "sensor"]),
    ],
    ids=lambda value: " ".join(value),
)  # fmt: skip
def test_roles_from_cells_header_words_and_neighbours(columns, roles):
    found, open_choices = roles_of(looks(**columns))
    assert found == roles
    assert open_choices == []


@pytest.mark.parametrize(
    ("columns", "choice"),
    [
        ({"a": MOMENTS, "b": VALUES, "c": VALUES}, (1, 2)),
        ({"time": MOMENTS, "sensor_left": VALUES, "sensor_right": VALUES}, (1, 2)),
        ({"local_time": MOMENTS, "time_of_day": MOMENTS, "glucose": VALUES}, (0, 1)),
    ],
    ids=lambda value: " ".join(map(str, value)),
)
def test_columns_that_look_alike_are_left_to_the_person(columns, choice):
    assert roles_of(looks(**columns))[1] == [choice]


def test_the_same_reading_in_two_units_is_no_question():
    columns = [look("time", MOMENTS), look("glucose mg/dL", VALUES), look("glucose mmol/L", ["5.5"] * 12)]
    assert roles_of(columns) == (["moment", "glucose", "ignored"], [])


def test_a_sample_is_spread_evenly_and_fills_short_rows():
    rows = [(str(k), "x") if k % 2 else (str(k),) for k in range(100)]
    first, second = sample_of(rows, 2, 4)
    assert first == ["0", "33", "66", "99"]
    assert second == ["", "x", "", "x"]
