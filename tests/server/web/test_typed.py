import pytest

from server.web import typed

pytestmark = pytest.mark.django_db


def sent(*lines, rows=None, **changes):
    """The form as a browser sends it; each line is day, fingerstick, sensor and, if they matter, mark and reason."""
    fields = {"unit": "mg/dL", "site": "calf", "rows": str(rows or len(lines))} | changes
    for number, line in enumerate(lines, start=1):
        fields |= {f"{name}-{number}": str(text) for name, text in zip(typed.Form.COLUMNS, line, strict=False)}
    return fields


def read(*lines, **changes):
    return typed.Form.read(sent(*lines, **changes), unit="mg/dL")


def faults(form):
    return {(row.number, name) for row in form.rows for name in row.faults}


def test_lines_without_readings_are_passed_over_and_an_open_day_is_that_of_the_line_above():
    form, report = typed.work_out(read((1, 100, 110), ("", "", ""), (3, 200, 180), ("", 80, 84)))
    assert form.n_faults == 0
    assert (report["n_pairs"], report["worn_days"]) == (3, 3.0)


@pytest.mark.parametrize("written", ["5,6", "5.6", " 5.6 "])
def test_a_comma_is_as_good_as_a_point(written):
    _, report = typed.work_out(read((1, written, "6,2"), unit="mmol/L"))
    assert report["mad_mg_dl"] == pytest.approx(0.6 * 18.0156, abs=0.01)


@pytest.mark.parametrize(
    ("line", "fault"),
    [
        ((0, 100, 110), "day"),
        ((31, 100, 110), "day"),
        (("two", 100, 110), "day"),
        ((1, "", 110), "reference"),
        ((1, "nan", 110), "reference"),
        ((1, "1e400", 110), "reference"),
        ((1, 100, ""), None),
        ((1, 100, "abc"), "sensor"),
        ((1, 100, "", ""), None),
        ((1, 900, 110), "reference"),
        ((1, 100, 110, "below"), "sensor_mark"),
        ((1, 100, 110, "sideways"), "sensor_mark"),
        ((1, 100, 110, "", "mood"), "prompt"),
    ],
    ids=str,
)
def test_a_fault_stands_beside_its_field(line, fault):
    form, report = typed.work_out(read((1, 100, 110), line))
    assert report is None
    assert (2, fault or "sensor") in faults(form)
    assert [row.typed["reference"] for row in form.rows] == ["100", str(line[1])]


def test_a_fault_is_counted_from_the_line_and_not_from_the_pair():
    form, _ = typed.work_out(read(("", "", ""), (1, 100, 110), ("", "", ""), (2, 900, 110)))
    assert faults(form) == {(4, "reference")}


def test_a_sensor_that_showed_no_number_is_a_pair():
    _, report = typed.work_out(read((1, 60, "", "below")))
    assert (report["n_pairs"], report["n_out_of_range"]) == (0, 1)


@pytest.mark.parametrize("changes", [{"site": ""}, {"site": "thigh"}, {"site": "nose"}], ids=str)
def test_the_site_has_to_be_chosen(changes):
    form, report = typed.work_out(read((1, 100, 110), **changes))
    assert (report, form.faults) == (None, ("Choose the site on which the sensor sat.",))


def test_an_empty_form_asks_for_a_pair():
    form, report = typed.work_out(typed.Form.empty("mmol/L"))
    assert report is None
    assert len(form.faults) == 2


def test_a_form_can_be_refused_with_what_was_typed_in_it():
    form = typed.refused(read((1, 100, 110)), "Wait a while.")
    assert (form.faults, form.rows[0].typed["reference"]) == (("Wait a while.",), "100")


def test_only_sites_of_the_tree_can_be_chosen(catalogue):
    choices = typed.choices()
    assert "thigh.front" in choices["sites"]
    assert "thigh" not in choices["sites"]
    assert "demo-a14" in choices["models"]


def test_everything_that_is_wrong_is_said_at_once():
    form, report = typed.work_out(read((1, 100, "abc"), ("", "", ""), (2, 900, 110), (3, 100, 120), site=""))
    assert report is None
    assert faults(form) == {(1, "sensor"), (3, "reference")}
    assert form.faults == ("Choose the site on which the sensor sat.",)
