import pytest

from server.web import timed


def filled(*lines, put_on="08:30", unit="mg/dL"):
    told = {"put_on": put_on, "unit": unit, "rows": str(len(lines))}
    for number, line in enumerate(lines, start=1):
        told |= {f"{name}-{number}": str(text) for name, text in zip(timed.Form.COLUMNS, line, strict=False)}
    return timed.drafted(timed.Form.read(told, unit="mg/dL"))


def test_days_and_times_become_minutes_since_insertion_and_an_open_day_is_that_above():
    form, draft = filled((1, "09:00", 112, 98), (3, "8.30", 80, "", "below"), ("", "0945", "95,5", 96))
    assert form.n_faults == 0
    pairs = draft.record["pairs"]
    assert [pair["elapsed_min"] for pair in pairs] == [30, 2880, 2955]
    assert (pairs[1]["sensor"], pairs[1]["sensor_mark"], pairs[2]["reference"]) == (None, "below", 95.5)
    assert all(pair["source"] == "display" for pair in pairs)


@pytest.mark.parametrize(
    ("line", "name"),
    [
        ((0, "09:00", 100, 110), "day"),
        ((1, "25:00", 100, 110), "time"),
        ((1, "08:00", 100, 110), "time"),
        ((1, "09:00", "", 110), "reference"),
        ((1, "09:00", 100, "abc"), "sensor"),
        ((1, "09:00", 100, 110, "below"), "sensor_mark"),
    ],
    ids=str,
)
def test_a_fault_stands_beside_its_field(line, name):
    form, draft = filled(line)
    assert draft is None
    assert list(form.rows[0].faults) == [name]


def test_numbers_of_the_other_unit_are_told_where_they_can_be_put_right():
    form, draft = filled(*((day, "09:00", 5.0 + day / 10, 90 + day) for day in range(1, 9)))
    assert draft is None
    (fault,) = form.faults.values()
    assert fault == ("The unit is said to be mg/dL, but fingersticks look like mmol/L; give every reading in one unit.")
    form, draft = filled((1, "09:00", 112, 98), (2, "09:00", 9, 101))
    assert draft is None
    assert not form.faults
    assert list(form.rows[1].faults) == ["reference"]


def test_without_the_time_of_insertion_or_a_pair_there_is_no_draft():
    assert filled((1, "09:00", 100, 110), put_on="soon")[0].faults.keys() == {"put_on"}
    assert filled(("", "", "", ""))[0].faults.keys() == {"rows"}
