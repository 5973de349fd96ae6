import json
from pathlib import Path

import numpy as np
import pytest

from pooling.caution import CAUTION_SHORT, CAUTION_TEXT
from pooling.cli.exits import Exit
from pooling.record import parse_record
from pooling.units import to_mg_dl
from tests.pooling.importing.test_exports import BOTH, EXPECTED, EXPORTS, HERE, LISBON, METER, NEAR, SENSOR, TYPED

ABOUT = ["--sensor-model", "demo-a14", "--site", "calf", "--end-reason", "completed", "--assignment", "chosen"]
OF_PAIRS = ["--calibrated", "no", "--prompt", "scheduled"]
TIMES = ["--inserted", "2031-10-25 07:00", "--ended", "2031-10-28 07:00"]
SAID = [*ABOUT, *OF_PAIRS, *TIMES]
# The meter of the invented weekend is an hour ahead of UTC all through; zones of that name count the other way.
AN_HOUR_AHEAD = ["--answer", "fingersticks.csv:time_zone=Etc/GMT-1"]
MINUTE = np.timedelta64(60, "s")


def flat(text):
    return " ".join(text.split())


@pytest.fixture
def prepare(commonwear, tmp_path, monkeypatch):
    """`commonwear prepare` among the exports of the invented weekend, the record written elsewhere."""
    monkeypatch.chdir(HERE)
    out = tmp_path / "wear.json"

    def run(*words):
        return commonwear("prepare", *words, "--out", out)

    run.out = out
    return run


def expected_pairs(*, since="first_insertion", until="2031-10-28T07:00:00"):
    """Elapsed minutes, fingerstick and sensor of each pair, straight from what the exports were written from."""
    sensor, start, end = dict(EXPECTED["sensor"]), EXPECTED.get(since, since), EXPECTED.get(until, until)
    return [
        (int((np.datetime64(time) - np.datetime64(start)) // MINUTE), stick, sensor[time])
        for time, stick in EXPECTED["fingersticks"]
        if start <= time < end
    ]


def pairs_of(path):
    """The pairs of a record in mg/dL, and how near they must be: what a rounding of the export may do."""
    record = parse_record(path.read_bytes())
    found = [
        (pair.elapsed_min, *(float(to_mg_dl(value, record.glucose_unit)) for value in (pair.reference, pair.sensor)))
        for pair in record.pairs
    ]
    return found, record


def same(found, expected, near):
    assert [elapsed for elapsed, _, _ in found] == [elapsed for elapsed, _, _ in expected]
    np.testing.assert_allclose([row[1:] for row in found], [row[1:] for row in expected], rtol=0, atol=near)


SENSORS = [name for name, told in EXPORTS.items() if told is SENSOR]
METERS = [name for name, told in EXPORTS.items() if told is METER]
BOTHS = [name for name, told in EXPORTS.items() if told is BOTH and not name.endswith("xlsx")]


# ---- every export of the invented weekend, to the same pairs ---------------------------------------------------------


@pytest.mark.parametrize("name", SENSORS)
def test_a_trace_of_any_layout_beside_one_meter(prepare, name):
    assert prepare(name, "fingersticks.csv", *SAID).code == 0
    same(pairs_of(prepare.out)[0], expected_pairs(), NEAR["mmol/L"] + 0.5)


@pytest.mark.parametrize("name", METERS)
def test_fingersticks_of_any_layout_beside_one_trace(prepare, name):
    assert prepare("plain.csv", name, *SAID).code == 0
    same(pairs_of(prepare.out)[0], expected_pairs(), NEAR["mmol/L"])


@pytest.mark.parametrize("name", BOTHS)
def test_one_file_that_holds_both(prepare, name):
    assert prepare(name, *SAID).code == 0
    same(pairs_of(prepare.out)[0], expected_pairs(), NEAR["mmol/L"])


def test_two_sheets_of_one_workbook(prepare):
    assert prepare("sensor-and-meter.xlsx#Sensor", "sensor-and-meter.xlsx#Meter", *SAID).code == 0
    same(pairs_of(prepare.out)[0], expected_pairs(), NEAR["mmol/L"])


@pytest.mark.parametrize("name", [name for name, told in EXPORTS.items() if told is LISBON])
def test_a_clock_that_was_put_back(prepare, name):
    zone = ["--answer", f"{name}:time_zone=Europe/Lisbon"]
    assert prepare(name, "fingersticks.csv", *zone, *AN_HOUR_AHEAD, *SAID).code == 0
    same(pairs_of(prepare.out)[0], expected_pairs(), NEAR["mmol/L"])


def test_a_trace_in_utc(prepare):
    zones, times = ["--answer", "zulu.csv:time_zone=UTC", *AN_HOUR_AHEAD], ["--inserted", "2031-10-25 06:00"]
    ended = prepare("zulu.csv", "fingersticks.csv", *zones, *ABOUT, *OF_PAIRS, *times, "--ended", "2031-10-28 06:00")
    assert ended.code == 0, ended.err
    same(pairs_of(prepare.out)[0], expected_pairs(), NEAR["mmol/L"])


@pytest.mark.parametrize("name", [name for name, told in EXPORTS.items() if told is TYPED])
def test_typed_pairs_make_a_record_a_wear(prepare, name):
    ended = prepare(name, *ABOUT, *OF_PAIRS, "--worn", "2d")
    assert ended.code == 0, ended.err
    first, second = (prepare.out.with_stem(f"wear-{number}") for number in (1, 2))
    same(pairs_of(first)[0], expected_pairs(until="second_insertion"), NEAR["mmol/L"])
    same(pairs_of(second)[0], expected_pairs(since="second_insertion"), NEAR["mmol/L"])
    assert pairs_of(second)[1].worn_min == 2880


# ---- what the person sees --------------------------------------------------------------------------------------------


def test_typed_pairs_whose_insertion_is_told(commonwear, write):
    write(b"day;fingerstick mg/dL;sensor mg/dL\n02.03.2031 12:00;121;122\n03.03.2031 12:00;125;126\n", "typed.csv")
    said = [*ABOUT, *OF_PAIRS, "--worn", "5d", "--inserted", "2031-03-01 12:00"]
    assert commonwear("prepare", "typed.csv", *said).code == 0
    found, record = pairs_of(Path("wear.json"))
    assert [elapsed for elapsed, _, _ in found] == [1440, 2880]
    assert record.worn_min == 7200


def test_each_wear_keeps_the_site_that_its_row_of_the_table_names(commonwear, write):
    rows = (
        b"wear;inserted;day;place;fingerstick mg/dL;sensor mg/dL\n"
        b"1;01.03.2031 12:00;02.03.2031 12:00;calf;121;122\n1;;03.03.2031 12:00;;125;126\n"
        b"2;11.03.2031 12:00;12.03.2031 12:00;somewhere;121;122\n2;;13.03.2031 12:00;;125;126\n"
    )
    write(rows, "typed.csv")
    said = [*OF_PAIRS, *ABOUT[:2], *ABOUT[4:], "--worn", "5d"]
    ended = commonwear("prepare", "typed.csv", *said)
    assert (ended.code, list(Path().glob("*.json"))) == (Exit.USAGE, [])
    assert "--site: Where did it sit?" in flat(ended.err)
    assert commonwear("prepare", "typed.csv", *said, "--site", "buttock").code == 0
    sites = [pairs_of(Path(f"wear-{number}.json"))[1].site for number in (1, 2)]
    assert sites == ["calf", "buttock"]


def test_the_record_is_shown_byte_for_byte_and_holds_no_clock_time(prepare):
    ended = prepare("plain.csv", "fingersticks.csv", *SAID)
    raw = prepare.out.read_bytes()
    assert f"This is all that leaves your device, once you send {prepare.out} ({len(raw):,} bytes):" in flat(ended.out)
    assert raw.decode() in ended.out
    assert "2031" not in raw.decode()
    assert "plain" not in raw.decode()
    assert CAUTION_SHORT in flat(ended.out)


def test_fingersticks_left_out_are_told_with_their_lines_and_reasons(prepare):
    ended = prepare("plain.csv", "fingersticks.csv", *ABOUT, *OF_PAIRS, *TIMES[:3], "2031-10-27 07:00")
    assert ended.code == 0
    assert "Wear 1: 9 pairs" in ended.out
    assert "2 fingersticks left out:" in ended.out
    assert "it was taken after the end of the wear: lines 11, 12" in flat(ended.out)


def test_at_a_terminal_everything_is_asked_for(prepare, typed):
    of_files, of_pairs = ["", ""], ["1", "2031-10-28 07:00", "no", "1", "2"]
    typed(*of_files, *of_pairs, "demo-a14", "11", "1", "1", "2", "yes", "1", "", "8", *[""] * 7)
    ended = prepare("plain.csv", "fingersticks.csv")
    assert ended.code == 0, ended.err
    found, record = pairs_of(prepare.out)
    same(found, expected_pairs(), NEAR["mmol/L"])
    assert (record.site, record.side, record.skin.grade, record.meter_class) == ("calf", "left", 1, "within-15-pct")
    assert "The trace begins" in ended.err


def test_json_tells_how_it_was_read_and_what_was_left_out(prepare):
    ended = prepare("plain.csv", "fingersticks.csv", *ABOUT, *OF_PAIRS, *TIMES[:3], "2031-10-27 07:00", "--json")
    assert ended.code == 0
    (wear,) = ended.json["wears"]
    assert (wear["file"], wear["n_pairs"]) == (str(prepare.out), 9)
    assert wear["unmatched"] == [{"line": 11, "reason": "after_end"}, {"line": 12, "reason": "after_end"}]
    assert [one["mapping"]["kind"] for one in ended.json["exports"]] == ["sensor", "meter"]
    assert ended.json["caution"]["text"] == CAUTION_TEXT


def test_either_unit(prepare):
    assert prepare("plain.csv", "fingersticks.csv", *SAID, "--unit", "mmol/L").code == 0
    found, record = pairs_of(prepare.out)
    assert record.glucose_unit == "mmol/L"
    same(found, expected_pairs(), NEAR["mmol/L"])


def test_what_has_no_option_comes_from_a_file(prepare, tmp_path):
    more = tmp_path / "more.json"
    more.write_text(json.dumps({"conditions": {"pinch": "thin"}, "site": "forearm", "calibrated": False}))
    said = [*ABOUT[:2], *ABOUT[4:], *OF_PAIRS[2:], *TIMES, "--skin-grade", "2", "--skin-signs", "itch", "--ease", "7"]
    ended = prepare("plain.csv", "fingersticks.csv", "--about", more, *said)
    assert ended.code == 0, ended.err
    record = pairs_of(prepare.out)[1]
    assert (record.site, record.conditions.pinch, record.skin.signs, record.ratings.ease) == (
        "forearm",
        "thin",
        ("itch",),
        7,
    )


# ---- what stops ------------------------------------------------------------------------------------------------------


def test_a_file_that_is_there_is_not_written_over_unasked(prepare):
    prepare.out.write_bytes(b"mine")
    ended = prepare("plain.csv", "fingersticks.csv", *SAID)
    assert ended.code == Exit.USAGE
    assert prepare.out.read_bytes() == b"mine"
    assert prepare("plain.csv", "fingersticks.csv", *SAID, "--force").code == 0


def test_a_file_of_the_last_wear_that_is_there_is_found_before_any_is_written(prepare):
    last = prepare.out.with_stem("wear-2")
    last.write_bytes(b"mine")
    ended = prepare("typed-by-label.csv", *ABOUT, *OF_PAIRS, "--worn", "3d")
    assert ended.code == Exit.USAGE
    assert "is there already" in flat(ended.err)
    assert [path.name for path in prepare.out.parent.iterdir()] == ["wear-2.json"]
    assert last.read_bytes() == b"mine"


def test_all_that_is_missing_is_named_at_once(prepare):
    ended = prepare("plain.csv", "fingersticks.csv")
    assert ended.code == Exit.USAGE
    options = ["--inserted", "--ended", "--calibrated", "--prompt", "--sensor-model", "--site", "--end-reason"]
    said = [line.partition(":")[0] for line in ended.err.splitlines() if line.startswith("--")]
    assert said == [*options, "--assignment"]
    assert "at these times. 2031-10-25 07:00:00" in flat(ended.err)
    assert not prepare.out.exists()


def test_a_trace_alone_is_not_enough(prepare):
    ended = prepare("plain.csv", *SAID)
    assert ended.code == Exit.USAGE
    assert "Which file holds the fingersticks?" in flat(ended.err)


@pytest.mark.parametrize("words", [["absent.csv"], ["README.md"], ["expected.json", "plain.csv"]], ids=str)
def test_what_cannot_be_read_is_said_so(prepare, words):
    ended = prepare(*words, *SAID)
    assert ended.code == Exit.UNREADABLE
    assert words[0] in ended.err


def test_a_record_with_faults_is_not_written(prepare, tmp_path):
    more = tmp_path / "more.json"
    more.write_text(json.dumps({"conditions": {"pinch": "huge"}}))
    ended = prepare("plain.csv", "fingersticks.csv", *SAID, "--about", more)
    assert ended.code == Exit.FINDINGS
    assert "#/conditions/pinch" in ended.out
    assert not prepare.out.exists()


def shifted(path: Path, minutes: int) -> bytes:
    """Rows of a file with a moment in the first cell, moved."""
    header, *rows = path.read_text(encoding="utf-8").splitlines()
    moved = []
    for row in rows:
        time, comma, rest = row.partition(",")
        moved.append(str(np.datetime64(time) + minutes * MINUTE).replace("T", " ") + comma + rest)
    return "\n".join([header, *moved]).encode()


def steady(minutes_ahead):
    """A trace that rises and falls unevenly for two days, and sixteen fingersticks of a meter whose clock is ahead."""
    minute = np.arange(0, 2 * 1440, 5)
    level = 150 + 50 * np.sin(minute / 97.0) + 40 * np.sin(minute / 41.0)
    at = np.datetime64("2031-02-10T08:00") + minute * np.timedelta64(1, "m")
    rows = [f"{str(t).replace('T', ' ')},{v:.0f}" for t, v in zip(at, level, strict=True)]
    sticks = [
        f"{str(at[k] + np.timedelta64(minutes_ahead, 'm')).replace('T', ' ')},{level[max(k - 1, 0)]:.0f}"
        for k in range(10, 570, 17)
    ]
    trace, strips = "time,sensor mg/dL", "time,fingerstick mg/dL"
    return "\n".join([trace, *rows]).encode(), "\n".join([strips, *sticks]).encode()


@pytest.fixture
def apart(write):
    """Two files of instruments whose clocks are 75 minutes apart."""
    trace, strips = steady(75)
    return write(trace, "trace.csv"), write(strips, "strips.csv")


TWO_DAYS = ["--inserted", "2031-02-10 08:00", "--ended", "2031-02-12 08:00"]


def test_an_offset_of_the_clocks_is_shown_and_taken_off_only_if_confirmed(commonwear, apart):
    words = ["prepare", *apart, *ABOUT, *OF_PAIRS, *TWO_DAYS]
    unsaid = commonwear(*words)
    assert unsaid.code == Exit.USAGE
    assert "--apply-offset yes or no" in flat(unsaid.err)
    kept = commonwear(*words, "--apply-offset", "no", "--json")
    taken = commonwear(*words, "--apply-offset", "yes", "--out", "taken.json", "--json")
    assert (kept.code, taken.code) == (0, 0)
    assert taken.json["wears"][0]["offset"]["verdict"] == "differs"
    first = {name: parse_record(Path(name).read_bytes()).pairs[0].elapsed_min for name in ("wear.json", "taken.json")}
    assert 60 <= first["wear.json"] - first["taken.json"] <= 90


def test_an_offset_is_asked_about_at_the_terminal(commonwear, apart, typed):
    typed("", "", "yes", "", "no")
    ended = commonwear("prepare", *apart, *ABOUT, *OF_PAIRS, *TWO_DAYS, "--meter-class", "unknown")
    assert ended.code == 0, ended.err
    assert "The meter's times were moved by as much." in flat(ended.out)


def test_a_finding_that_says_stop_ends_with_one_after_the_record_is_written(commonwear, write):
    trace, _ = steady(0)
    copied = b"time,fingerstick mg/dL\n" + b"\n".join(trace.splitlines()[10::20])
    ended = commonwear("prepare", write(trace, "t.csv"), write(copied, "s.csv"), *ABOUT, *OF_PAIRS, *TWO_DAYS)
    assert ended.code == Exit.FINDINGS
    assert "Stop: " in ended.out
    assert Path("wear.json").exists()
