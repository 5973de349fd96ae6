import msgspec
import pytest

from pooling.errors import InvalidInput
from pooling.importing import ColumnMapping, open_file, propose

TRACE = [(f"2031-03-{1 + k // 288:02} {k // 12 % 24:02}:{k % 12 * 5:02}", 90 + k % 70) for k in range(900)]


def sheet_of(text):
    (sheet,) = open_file(text.encode())
    return sheet


def table(head, rows):
    return sheet_of("\n".join([head, *(";".join(map(str, row)) for row in rows)]) + "\n")


def asked(proposal):
    return {question.code: question for question in proposal.questions}


def test_a_plain_trace_leaves_nothing_open():
    proposal = propose(table("time;glucose", TRACE))
    assert proposal.questions == ()
    assert proposal.mapping == ColumnMapping(
        "sensor", 1, ("moment", "glucose"), "mg/dL", "year_first", ".", None, ("time", "glucose")
    )
    assert proposal.preview[0] == ("time", "glucose")
    assert proposal.preview[1] == ("2031-03-01 00:00", "90")
    assert len(proposal.preview) == 6


def test_a_mapping_goes_through_json():
    mapping = propose(table("time;glucose", TRACE)).mapping
    assert msgspec.json.decode(msgspec.json.encode(mapping), type=ColumnMapping) == mapping


def test_no_cell_stands_in_the_repr():
    assert "90" not in repr(propose(table("time;glucose", TRACE)))


def test_the_layout_is_known_again_without_a_reading():
    assert propose(table("Zeit [h]; Glukose-Wert (mg/dL)", TRACE)).mapping.header_hash_input == (
        "zeit h",
        "glukose wert mg dl",
    )
    assert propose(table(*_no_header())).mapping.header_hash_input == ("moment", "number")


def _no_header():
    (first, value), *rest = TRACE
    return f"{first};{value}", rest


@pytest.mark.parametrize(
    ("values", "unit", "asks"),
    [
        ([4.1, 5.0, 17.2], "mmol/L", False),
        ([62, 140, 300], "mg/dL", False),
        ([19, 25, 31], None, True),
        ([18, 33.3], None, True),
        ([17.9, 33.3], "mmol/L", False),
        ([18, 33.4], "mg/dL", False),
        ([5.4, 112, 130], None, True),
    ],
    ids=str,
)
def test_units_from_magnitudes_or_a_question(values, unit, asks):
    rows = [(moment, values[k % len(values)]) for k, (moment, _) in enumerate(TRACE)]
    proposal = propose(table("time;glucose", rows))
    assert proposal.mapping.glucose_unit == unit
    assert ("glucose_unit" in asked(proposal)) == asks


def test_a_mix_of_units_is_asked_about_with_its_lines():
    rows = [(moment, 5.4 if k in (3, 10) else 120) for k, (moment, _) in enumerate(TRACE)]
    question = asked(propose(table("time;glucose", rows)))["glucose_unit"]
    assert question.lines == (5, 12)
    assert question.options == ("mg/dL", "mmol/L")


def test_a_header_that_contradicts_the_numbers_is_asked_about():
    question = asked(propose(table("time;glucose mmol/L", TRACE)))["glucose_unit"]
    assert question.blocking
    assert "mmol/L" in question.text


@pytest.mark.parametrize(
    "text",
    ["time;glucose [mmol/l]", "Unit: mmol/L\n\ntime;glucose", "time;glucose\n;mmol/L"],
    ids=["header", "before", "below"],
)
def test_a_unit_that_is_told_settles_ambiguous_values(text):
    proposal = propose(table(text, [(moment, 20 + k % 9) for k, (moment, _) in enumerate(TRACE)]))
    assert proposal.mapping.glucose_unit == "mmol/L"
    assert proposal.questions == ()


def test_a_column_of_units_settles_them_too():
    rows = [(moment, 20 + k % 9, "mmol/l") for k, (moment, _) in enumerate(TRACE)]
    assert propose(table("time;glucose;unit", rows)).mapping.glucose_unit == "mmol/L"


@pytest.mark.parametrize(
    ("minutes", "kind", "asks"),
    [(5, "sensor", False), (15, "sensor", False), (30, "sensor", True), (120, "meter", False)],
)
def test_the_kind_follows_from_how_dense_readings_are(minutes, kind, asks):
    moments = [divmod(k * minutes, 60) for k in range(60)]
    rows = [(f"{1 + hour // 24:02}.03.2031 {hour % 24:02}:{minute:02}", 90 + minute) for hour, minute in moments]
    proposal = propose(table("time;glucose", rows))
    assert proposal.mapping.kind == kind
    assert ("kind" in asked(proposal)) == asks


def test_an_ambiguous_order_of_day_and_month_is_asked_about():
    rows = [(f"0{1 + k // 3}/0{1 + k % 3}/2031 08:00", 100 + k) for k in range(9)]
    question = asked(propose(table("time;fingerstick", rows)))["date_order"]
    assert question.options == ("day_first", "month_first")
    assert question.lines == tuple(range(2, 11))


def test_typed_pairs_without_insertion_ask_for_it():
    rows = [(f"{day:02}.03.2031 08:00", 100 + day, 110 + day) for day in range(1, 15)]
    proposal = propose(table("when;sensor;finger", rows))
    assert proposal.mapping.kind == "typed"
    assert asked(proposal)["inserted"].options == ()


def test_a_clock_put_back_asks_for_the_zone():
    times = [f"2031-10-26 {hour:02}:{minute:02}" for hour in (0, 1, 2, 2, 3, 4) for minute in range(0, 60, 5)]
    question = asked(propose(table("time;sensor", [(time, 100 + k) for k, time in enumerate(times)])))["time_zone"]
    assert question.lines == (38,)
    assert question.blocking


def test_columns_that_nobody_can_find_are_asked_for():
    assert "roles" in asked(propose(table("a;b", [(k % 24, f"{k % 24}:00") for k in range(40)])))
    assert "roles" in asked(propose(table("time;b", [(moment, "2031-03-01") for moment, _ in TRACE])))
    options = asked(propose(table("time;left sensor;right sensor", [(m, v, v + 3) for m, v in TRACE])))["roles"].options
    assert options == ("left sensor", "right sensor")


@pytest.mark.parametrize("text", ["a;b\nc;d\n", "a;b\n" * 200], ids=["few", "many"])
def test_a_table_without_readings_is_refused(text):
    with pytest.raises(InvalidInput, match="no row of the first"):
        propose(sheet_of(text))
