"""One invented weekend told in many ways: every export of fixtures/exports is read to the same readings."""

import json
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
from msgspec.structs import replace

from fixtures.exports import make
from pooling.importing import kinds_of, open_file, propose, read_series, read_typed
from pooling.importing.types import ABOVE, BELOW, INSERTION, NUMBER

HERE = Path(make.__file__).parent
EXPECTED = json.loads((HERE / "expected.json").read_text(encoding="utf-8"))
HOUR = np.timedelta64(3600, "s")
MINUTE = np.timedelta64(60, "s")
# Half of a tenth of a mmol/L, and the least that tells two whole mg/dL apart.
NEAR = {"mmol/L": 0.91, "mg/dL": 0.01}
STARTS = {name: np.datetime64(EXPECTED[f"{name}_insertion"], "s") for name in ("first", "second")}


class Told(NamedTuple):
    """What an export holds, how far its clock is ahead of UTC, and what the person has to answer."""

    holds: tuple[str, ...]
    ahead: np.timedelta64 = HOUR
    answers: dict[str, str] = {}  # noqa: RUF012


UTC = np.timedelta64(0, "s")
SENSOR, METER, BOTH, TYPED = Told(("sensor",)), Told(("meter",)), Told(("sensor", "meter")), Told(("typed",))
LISBON = Told(("sensor",), UTC, {"time_zone": "Europe/Lisbon"})
EXPORTS = {
    "plain.csv": SENSOR,
    "fingersticks.csv": METER,
    "month-first-12-hours.csv": SENSOR,
    "month-words.txt": SENSOR,
    "units-in-cells.csv": SENSOR,
    "two-units.csv": SENSOR,
    "compact.csv": SENSOR,
    "no-header.csv": SENSOR,
    "deutsch.csv": SENSOR,
    "fingerstich.csv": METER,
    "francais.tsv": SENSOR,
    "espanol.txt": SENSOR,
    "italiano.csv": METER,
    "nederlands.csv": SENSOR,
    "portugues.csv": SENSOR,
    "polski.csv": SENSOR,
    "svenska.txt": METER,
    "offsets.csv": SENSOR,
    "zulu.csv": Told(("sensor",), UTC),
    "clock-put-back.csv": LISBON,
    "clock-put-back-newest-first.csv": LISBON,
    "two-columns-of-readings.csv": BOTH,
    "both-filled.csv": BOTH,
    "readings-by-row.csv": BOTH,
    "headers-and-totals.csv": SENSOR,
    "aligned.txt": SENSOR,
    "carriage-returns.csv": SENSOR,
    "two-bytes-no-mark.csv": SENSOR,
    "many-columns.csv": SENSOR,
    "tildes.txt": SENSOR,
    "told-separator.csv": SENSOR,
    "day-written-once.csv": SENSOR,
    "shuffled-with-repeats.csv": SENSOR,
    "typed-by-label.csv": TYPED,
    "typed-by-insertion.csv": TYPED,
    "typed-elapsed.csv": TYPED,
    "sensor-and-meter.xlsx": BOTH,
    "date-and-time-cells.xlsx": SENSOR,
    "sensor.ods": SENSOR,
    "meter.ods": METER,
}
SERIES = [name for name, told in EXPORTS.items() if told is not TYPED]
TYPED_NAMES = [name for name, told in EXPORTS.items() if told is TYPED]


def readings(name):
    """Kind → series, of every table of a file that holds readings."""
    told, found = EXPORTS[name], {}
    for sheet in open_file((HERE / name).read_bytes(), filename=name):
        if len(sheet.rows) < 3:
            continue
        proposal = propose(sheet)
        asked = {question.code for question in proposal.questions if question.blocking}
        assert asked == set(told.answers), name
        mapping = replace(proposal.mapping, **told.answers)
        for kind in kinds_of(mapping):
            found[kind] = (mapping.glucose_unit, read_series(sheet, replace(mapping, kind=kind)))
    return found


@pytest.mark.parametrize("name", SERIES)
def test_the_same_readings_come_out_of_every_export(name):
    told = EXPORTS[name]
    found = readings(name)
    assert set(found) == set(told.holds)
    for kind, (unit, series) in found.items():
        rows = EXPECTED["sensor" if kind == "sensor" else "fingersticks"]
        np.testing.assert_array_equal(series.time - told.ahead, np.array([t for t, _ in rows], "datetime64[s]"))
        marks = [{"LO": BELOW, "HI": ABOVE}.get(value, NUMBER) for _, value in rows]
        np.testing.assert_array_equal(series.mark, marks)
        values = [np.nan if isinstance(value, str) else float(value) for _, value in rows]
        np.testing.assert_allclose(series.mg_dl, values, rtol=0, atol=NEAR[unit])


@pytest.mark.parametrize("name", SERIES)
def test_each_reading_knows_its_line(name):
    """The line is where the digits of the reading stand; looked up in files that spell a reading as it is expected."""
    if name not in {"plain.csv", "headers-and-totals.csv", "many-columns.csv", "clock-put-back-newest-first.csv"}:
        assert all(series.line.min() >= 1 for _, series in readings(name).values())
        return
    lines = (HERE / name).read_text(encoding="utf-8").splitlines()
    _, series = readings(name)["sensor"]
    for line, mg_dl in zip(series.line[::7], series.mg_dl[::7], strict=True):
        record = lines[line - 1] + lines[line] if name == "many-columns.csv" else lines[line - 1]
        assert np.isnan(mg_dl) or f"{mg_dl:.0f}" in record


@pytest.mark.parametrize("name", TYPED_NAMES)
def test_typed_pairs_fall_into_the_same_wears(name):
    (sheet,) = open_file((HERE / name).read_bytes(), filename=name)
    mapping = propose(sheet).mapping
    wears = read_typed(sheet, mapping)
    assert len(wears) == 2
    sensor = dict(EXPECTED["sensor"])
    seen = []
    for wear, start in zip(wears, STARTS.values(), strict=True):
        assert wear.inserted is None or wear.inserted == start + HOUR
        seen += [(str(start + pair.elapsed_min * MINUTE), pair) for pair in wear.pairs]
    to_mg_dl = 18.0156 if mapping.glucose_unit == "mmol/L" else 1.0
    assert [time for time, _ in seen] == [time for time, _ in EXPECTED["fingersticks"]]
    for (time, pair), (_, stick) in zip(seen, EXPECTED["fingersticks"], strict=True):
        assert pair.reference * to_mg_dl == pytest.approx(stick, abs=NEAR[mapping.glucose_unit])
        assert pair.sensor * to_mg_dl == pytest.approx(sensor[time], abs=NEAR[mapping.glucose_unit])
        assert pair.source == "display"


def test_what_stands_beside_typed_pairs_is_read_too():
    (sheet,) = open_file((HERE / "typed-by-label.csv").read_bytes())
    first, second = read_typed(sheet, propose(sheet).mapping)
    assert (first.label, first.site, second.label, second.site) == ("first", "thigh.front", "second", "calf")
    assert {pair.prompt for pair in (*first.pairs, *second.pairs)} == {"scheduled", "doubt"}
    (sheet,) = open_file((HERE / "typed-by-insertion.csv").read_bytes())
    wears = read_typed(sheet, propose(sheet).mapping)
    assert all(pair.replicate is not None for wear in wears for pair in wear.pairs)
    (sheet,) = open_file((HERE / "typed-elapsed.csv").read_bytes())
    assert all(wear.inserted is None for wear in read_typed(sheet, propose(sheet).mapping))
    assert np.datetime64(0, "s") == INSERTION


def test_the_files_are_what_the_script_writes_and_all_are_read():
    made = make.everything()
    assert {name: (HERE / name).read_bytes() == content for name, content in made.items()} == dict.fromkeys(made, True)
    assert set(EXPORTS) | {"expected.json"} == set(made)
    page = (HERE / "README.md").read_text(encoding="utf-8")
    assert [name for name in made if f"`{name}`" not in page] == []
