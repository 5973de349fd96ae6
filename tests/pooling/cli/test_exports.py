import pytest

from pooling.cli.exits import Exit, Stop
from pooling.cli.exports import ROLE_WORDS, prepared_from, settled, sources_of, told_by
from pooling.cli.terminal import Terminal
from pooling.importing import ROLES
from pooling.preparation import Answers
from tests.pooling.importing.test_exports import HERE

AMBIGUOUS = b"day;reading\n" + b"".join(b"0%d/0%d/2031 08:%02d;%d\n" % (d, 12 - d, 5 * d, 5 + d) for d in range(4, 9))


@pytest.fixture
def terminal():
    return Terminal()


@pytest.fixture
def exports(monkeypatch):
    """Files of the invented weekend, by their names."""
    monkeypatch.chdir(HERE)
    return lambda *names: sources_of(names)


def mapping_of(sources, place=0):
    return sources[place].export.mapping


def test_a_sheet_of_a_workbook_is_named_behind_its_file(exports, terminal):
    sources = settled(exports("sensor-and-meter.xlsx#Sensor", "sensor-and-meter.xlsx#Meter"), {}, terminal)
    assert [mapping_of(sources, place).kind for place in (0, 1)] == ["sensor", "meter"]


def test_a_file_with_that_sign_in_its_name_is_a_file(write):
    path = write(b"x", "log#1.csv")
    (source,) = sources_of([str(path)])
    assert (source.export.data, source.export.sheet) == (b"x", None)


def test_which_sheet_is_asked_or_the_choice_is_named(exports, terminal, typed):
    with pytest.raises(Stop, match=r"Give one of sensor-and-meter\.xlsx#Notes, sensor-and-meter\.xlsx#Sensor"):
        settled(exports("sensor-and-meter.xlsx"), {}, terminal)
    typed("3", "")
    (source,) = settled(exports("sensor-and-meter.xlsx"), {}, terminal)
    assert source.name == "sensor-and-meter.xlsx#Meter"
    assert source.export.mapping.kind == "meter"


def test_how_a_file_is_read_is_shown(exports, terminal, capsys):
    settled(exports("deutsch.csv"), {}, terminal)
    shown = capsys.readouterr().out
    assert "deutsch.csv: the sensor's readings, mmol/L\n" in shown
    assert "  4  Sensorglukose  sensor reading  15,1  16,0  16,9" in shown
    assert max(map(len, shown.splitlines())) <= 80


def test_which_number_is_the_day_is_said_where_dates_do_not_show_it(exports, terminal, capsys):
    settled(exports("typed-by-label.csv"), {}, terminal)
    assert "typed-by-label.csv: typed pairs, mg/dL, day before month\n" in capsys.readouterr().out


def test_every_role_has_words():
    assert set(ROLE_WORDS) == set(ROLES)


def test_a_question_that_nobody_answers_stops_and_says_how(write, terminal):
    sources = sources_of([str(write(AMBIGUOUS, "trace.csv"))])
    with pytest.raises(Stop) as stopped:
        settled(sources, {}, terminal)
    assert stopped.value.code == Exit.USAGE
    assert "--answer date_order=day_first or month_first" in str(stopped.value)
    told = told_by(["date_order=day_first", "trace.csv:kind=meter", "glucose_unit=mmol/L"], sources)
    mapping = mapping_of(settled(sources, told, terminal))
    assert (mapping.date_order, mapping.kind, mapping.glucose_unit) == ("day_first", "meter", "mmol/L")


def test_a_question_is_answered_at_the_terminal(write, terminal, typed):
    sources = sources_of([str(write(AMBIGUOUS, "trace.csv"))])
    typed("2", "")
    assert mapping_of(settled(sources, {}, terminal)).date_order == "month_first"


def test_a_time_zone_is_asked_until_there_is_one(exports, terminal, typed, capsys):
    typed("Atlantis/Capital", "Europe/Lisbon", "")
    (source,) = settled(exports("clock-put-back.csv"), {}, terminal)
    assert source.export.mapping.time_zone == "Europe/Lisbon"
    assert "The clock showed this hour twice" in " ".join(capsys.readouterr().out.split())


def test_a_column_is_put_right_at_the_terminal(exports, terminal, typed, capsys):
    typed("9", "nonsense", "2", "6", "")
    (source,) = settled(exports("plain.csv"), {}, terminal)
    assert source.export.mapping.roles == ("moment", "reference")
    assert source.export.mapping.kind == "meter"


def test_the_answer_for_one_file_goes_before_that_for_all(exports, terminal):
    sources = exports("plain.csv", "fingersticks.csv")
    told = told_by(["time_zone=Europe/Lisbon", "plain.csv:time_zone=UTC", "roles=moment,glucose"], sources)
    settled_sources = settled(sources, told, terminal)
    assert [mapping_of(settled_sources, place).time_zone for place in (0, 1)] == ["UTC", "Europe/Lisbon"]


@pytest.mark.parametrize(
    "option",
    ["date_order", "colour=red", "other.csv:kind=meter", "=x"],
    ids=["no value", "no code", "no file", "empty"],
)
def test_an_answer_of_another_form_is_refused(exports, option):
    with pytest.raises(Stop, match="write CODE=VALUE or FILE:CODE=VALUE") as stopped:
        told_by([option], exports("plain.csv"))
    assert stopped.value.code == Exit.USAGE


@pytest.mark.parametrize(
    "option",
    ["kind=pump", "roles=moment", "roles=moment,colour", "time_zone=Atlantis/Capital", "glucose_unit=g/L", "decimal=;"],
)
def test_an_answer_that_cannot_be_is_refused(exports, terminal, option):
    sources = exports("plain.csv")
    with pytest.raises(Stop) as stopped:
        settled(sources, told_by([option], sources), terminal)
    assert stopped.value.code == Exit.USAGE
    assert str(stopped.value).startswith("plain.csv: ")


def test_a_file_that_cannot_be_read_is_named(exports):
    with pytest.raises(Stop, match=r"README\.md: ") as stopped:
        prepared_from(exports("plain.csv", "README.md"), Answers())
    assert stopped.value.code == Exit.UNREADABLE
