from datetime import datetime

import msgspec
import pytest

from pooling.cli.about import (
    ASKED,
    answers_of,
    checked,
    fault_of,
    gather,
    read_header,
    said_in,
    told_of,
)
from pooling.cli.exits import Exit, Stop
from pooling.cli.terminal import Terminal
from pooling.importing import Question
from pooling.record import Conditions, Pair, Ratings, WearRecord, record_from

SAID = {
    "inserted": "2031-02-10 08:30",
    "ended": "2031-02-20 08:30",
    "calibrated": "no",
    "prompt": "scheduled",
    "sensor_model": "demo-a14",
    "site": "calf",
    "end_reason": "completed",
    "assignment": "chosen",
}
ALL = [asked.field for asked in ASKED]
BUT_LENGTH = [field for field in ALL if field != "worn_min"]


@pytest.fixture
def terminal():
    return Terminal()


def test_what_is_said_is_enough_where_nobody_can_be_asked(terminal):
    assert gather(SAID, BUT_LENGTH, terminal, offered={}) == SAID


def test_all_that_is_missing_is_named_at_once(terminal):
    with pytest.raises(Stop) as stopped:
        gather({"site": "calf"}, [field for field in ALL if field != "assignment"], terminal, offered={})
    assert stopped.value.code == Exit.USAGE
    _, *missing = str(stopped.value).splitlines()
    options = ["--inserted", "--ended", "--worn", "--calibrated", "--prompt", "--sensor-model", "--end-reason"]
    assert [line.partition(":")[0] for line in missing] == options
    assert "--calibrated: Was the sensor calibrated with fingersticks? yes, no" in missing


@pytest.mark.parametrize(
    ("field", "answer"),
    [
        ("site", "knee"),
        ("inserted", "10.2.2031"),
        ("inserted", "2031-02-10 08:30,"),
        ("ended", "2031-02-20T08:30+01:00"),
        ("worn_min", "two weeks"),
        ("sensor_model", "Demo A14"),
        ("skin_grade", "5"),
        ("ease", "11"),
        ("calibrated", "maybe"),
        ("skin_signs", "itch,rash"),
    ],
)
def test_an_option_that_cannot_be_names_itself(field, answer):
    with pytest.raises(Stop) as stopped:
        checked(SAID | {field: answer, "side": None})
    assert stopped.value.code == Exit.USAGE
    assert str(stopped.value).startswith(f"--{field.removesuffix('_min').replace('_', '-')} {answer}: ")


REQUIRED = ("2031-02-10 08:30", "2031-02-20 08:30", "no", "1", "", "demo-a14", "11", "1", "1", "2")


def test_every_answer_at_the_terminal(terminal, typed):
    # In the order of the questions; empty lines leave the optional ones open.
    more = ("yes", "2", "1, 2,1", "8", "", "", "1,6", "3", "", "no", "yes")
    typed(*REQUIRED, *more)
    assert gather({}, BUT_LENGTH, terminal, offered={}) == SAID | {
        "side": "left",
        "skin_grade": "2",
        "skin_signs": "itch,redness",
        "ease": "8",
        "prepared": "washed,cover_tape",
        "pinch": "thick",
        "near_insulin_site": "no",
        "interferent": "yes",
    }


def test_whoever_does_not_want_more_questions_gets_none(terminal, typed):
    typed(*REQUIRED, "no")
    assert gather({}, BUT_LENGTH, terminal, offered={}) == SAID | {"side": "left"}


def test_skin_without_a_trace_has_no_signs_to_ask_about(terminal, typed):
    typed("yes", "0")
    assert gather({}, ["skin_grade", "skin_signs"], terminal, offered={}) == {"skin_grade": "0"}


def test_several_answers_must_all_fit(terminal, typed, capsys):
    typed("yes", "1,99", "itch;redness", "itch, 2")
    assert gather({"skin_grade": "1"}, ["skin_signs"], terminal, offered={})["skin_signs"] == "itch,redness"
    assert capsys.readouterr().err.count("Please type numbers of the list") == 2


def test_a_question_is_put_until_the_answer_fits(terminal, typed, capsys):
    typed("Demo A14", "demo-a14", "0", "12", "knee", "", "11")
    assert gather({}, ["sensor_model", "site"], terminal, offered={}) == {"sensor_model": "demo-a14", "site": "calf"}
    asked = capsys.readouterr().err
    assert "11  calf" in asked
    assert asked.count("Please type a number of the list.") == 4
    assert "Please write small letters, digits and single hyphens" in asked


def test_times_that_the_trace_offers_are_chosen_by_number(terminal, typed, capsys):
    offer = Question("inserted", "The trace begins at these times.", ("2031-02-10T08:30:00", "2031-02-24T09:00:00"), ())
    typed("2", "2031-02-26 07:00")
    said = gather({}, ["inserted", "ended"], terminal, offered={"inserted": offer})
    assert said == {"inserted": "2031-02-24T09:00:00", "ended": "2031-02-26 07:00"}
    assert "The trace begins at these times." in capsys.readouterr().err


def test_what_was_said_is_not_asked(terminal, typed):
    typed()
    assert gather(SAID, SAID, terminal, offered={}) == SAID


def test_what_the_pairing_is_told():
    told = answers_of(SAID | {"inserted": "2031-02-10 08:30, 2031-02-24 09:00", "worn_min": "13.5d"}, tolerance_min=7)
    assert told.inserted == datetime(2031, 2, 10, 8, 30)  # noqa: DTZ001 as the sensor's clock shows it
    assert told.further_inserted == (datetime(2031, 2, 24, 9),)  # noqa: DTZ001
    assert (told.worn_min, told.calibrated, told.prompt, told.tolerance_min) == (19440, False, "scheduled", 7)
    assert answers_of({"worn_min": "320 hours"}).worn_min == 19200
    assert answers_of({"calibrated": "yes", "worn_min": "90min"}).calibrated


def test_fields_of_the_record(good_record):
    said = SAID | {"skin_grade": "2", "skin_signs": "itch", "ease": "8", "side": "left", "worn_min": "10d"}
    said |= {"exposed": "water,sport", "interferent": "no"}
    fields = {"conditions": {"pinch": "thin"}, "site": "forearm"}
    record = record_from(good_record | told_of(said, fields, rated_by="carer"))
    assert (record.site, record.side, record.worn_min, record.skin.grade) == ("calf", "left", 14400, 2)
    assert (record.ratings.ease, record.ratings.comfort, record.ratings.rated_by) == (8, None, "carer")
    assert record.skin.signs == ("itch",)
    assert (record.conditions.pinch, record.conditions.exposed, record.conditions.interferent) == (
        "thin",
        ("water", "sport"),
        False,
    )


def test_every_question_but_of_the_pairs_fills_a_field_of_the_record():
    fields = {field.name for part in (WearRecord, Ratings, Conditions, Pair) for field in msgspec.structs.fields(part)}
    assert set(ALL) - fields == {"inserted", "ended", "skin_grade", "skin_signs"}
    assert [asked.field for asked in ASKED for word in asked.choices or () if fault_of(asked.field, word)] == []


def test_fields_come_from_a_file(write):
    assert read_header(None) == {}
    fields = read_header(str(write({"plan": "7f3c9a", "site": "calf", "calibrated": True, "worn_min": 600})))
    assert fields["plan"] == "7f3c9a"
    assert said_in(fields) == {"site": "calf", "calibrated": "yes", "worn_min": "600min"}


@pytest.mark.parametrize("content", [b"[1]", b"{", b"\xff"])
def test_a_file_that_holds_no_fields_is_said_so(write, content):
    with pytest.raises(Stop, match="write a JSON object") as stopped:
        read_header(str(write(content)))
    assert stopped.value.code == Exit.UNREADABLE
