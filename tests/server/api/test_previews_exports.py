"""Every export of one invented weekend becomes the same pairs, through the call that members use."""

from datetime import datetime, timedelta

import pytest

from tests.pooling.importing.test_exports import EXPECTED, EXPORTS, HERE, NEAR, TYPED_NAMES, UTC
from tests.server.exports import preview

pytestmark = pytest.mark.django_db

START, SECOND_START = (datetime.fromisoformat(EXPECTED[f"{which}_insertion"]) for which in ("first", "second"))
WORN = timedelta(hours=60)
HOUR = timedelta(hours=1)
DEVICE = "Etc/GMT-1"  # an hour ahead of UTC all weekend; the sign is that of the time-zone database
TO_MG_DL = {"mg/dL": 1.0, "mmol/L": 18.0156}
SHOWN = dict(EXPECTED["sensor"])
PAIRED_NAMES = [name for name in EXPORTS if name not in TYPED_NAMES]


def content(answer):
    assert answer.status_code == 200, answer.content
    return answer.json()


def files_of(name):
    """The export, with plain fingersticks or a plain trace where it holds one instrument only, and sheets to read."""
    data, holds = (HERE / name).read_bytes(), EXPORTS[name].holds
    if name == "sensor-and-meter.xlsx":
        return [data, data], [{"sheet": "Sensor"}, {"sheet": "Meter"}]
    if holds == ("sensor", "meter"):
        return [data], [{}]
    other = "fingersticks.csv" if holds == ("sensor",) else "plain.csv"
    return [data, (HERE / other).read_bytes()], [{}, {}]


def looked_at(member, name):
    """Send the files, correct what was proposed as a member would, and send them again with the times of the wear."""
    files, told = files_of(name)
    proposed = content(preview(member, *files, told={"exports": told}))["exports"]
    in_utc = EXPORTS[name].ahead == UTC
    zones = [EXPORTS[name].answers.get("time_zone", "UTC"), DEVICE] if in_utc else [None] * len(files)
    confirmed = [
        one | {"mapping": each["mapping"] | {"time_zone": zone}}
        for one, each, zone in zip(told, proposed, zones, strict=True)
    ]
    in_lisbon = zones[0] == "Europe/Lisbon"  # summer time when it began, an hour less when it ended
    inserted = START + (0 if in_utc and not in_lisbon else 1) * HOUR
    ended = START + WORN + (0 if in_utc else 1) * HOUR
    answers = {
        "inserted": inserted.isoformat(),
        "ended": ended.isoformat(),
        "glucose_unit": "mg/dL",
        "prompt": "scheduled",
    }
    found = content(preview(member, *files, told={"exports": confirmed, "answers": answers}))
    units = {each["mapping"]["glucose_unit"] for each in found["exports"]}
    return found, max(NEAR[unit] for unit in units)


@pytest.mark.parametrize("name", PAIRED_NAMES)
def test_trace_and_fingersticks_become_the_same_pairs(contributor, name):
    found, near = looked_at(contributor, name)
    assert found["complete"], found["questions"]
    (wear,) = found["wears"]
    assert wear["unmatched"] == []
    assert wear["record"]["worn_min"] == WORN // timedelta(minutes=1)
    pairs = wear["record"]["pairs"]
    moments = [START + pair["elapsed_min"] * timedelta(minutes=1) for pair in pairs]
    assert [moment.isoformat() for moment in moments] == [moment for moment, _ in EXPECTED["fingersticks"]]
    for pair, (moment, stick) in zip(pairs, EXPECTED["fingersticks"], strict=True):
        assert pair["reference"] == pytest.approx(stick, abs=near)
        assert pair["sensor"] == pytest.approx(SHOWN[moment], abs=near)
        assert (pair["source"], pair["prompt"], pair["gap_min"]) == ("trace", "scheduled", 0)


@pytest.mark.parametrize("name", TYPED_NAMES)
def test_typed_pairs_become_the_same_wears(contributor, name):
    found = content(preview(contributor, (HERE / name).read_bytes()))
    assert found["complete"], found["questions"]
    seen = []
    for wear, start in zip(found["wears"], (START, SECOND_START), strict=True):
        unit = wear["record"]["glucose_unit"]
        for pair in wear["record"]["pairs"]:
            moment = (start + pair["elapsed_min"] * timedelta(minutes=1)).isoformat()
            seen.append(moment)
            assert pair["source"] == "display"
            assert pair["sensor"] * TO_MG_DL[unit] == pytest.approx(SHOWN[moment], abs=NEAR[unit])
            stick = dict(EXPECTED["fingersticks"])[moment]
            assert pair["reference"] * TO_MG_DL[unit] == pytest.approx(stick, abs=NEAR[unit])
    assert seen == [moment for moment, _ in EXPECTED["fingersticks"]]


def test_every_export_is_looked_at():
    files = {path.name for path in HERE.iterdir() if path.suffix not in {".py", ".json", ".md"} and path.is_file()}
    assert files == set(PAIRED_NAMES) | set(TYPED_NAMES)
    assert len(files) >= 25
