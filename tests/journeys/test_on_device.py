"""Reading on the device: it agrees with the server's reader wherever it claims to read, and nothing else leaves."""

import json
import re
from datetime import datetime, timedelta
from urllib.parse import parse_qs

import msgspec
import pytest

from pooling.preparation import Answers, Export, prepare
from tests.house.tree import ROOT
from tests.journeys.test_bringing import check, enter, member  # noqa: F401
from tests.server.exports import ENDED, INSERTED, TIMES, meter_export, sensor_export, trace

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

EXPORTS = ROOT / "fixtures" / "exports"
TEXT = sorted(path.name for path in EXPORTS.iterdir() if path.suffix in {".csv", ".tsv", ".txt"})
# Made plain enough for a reader that guesses nothing; more may be read, and then has to agree as well.
READ = {
    "plain.csv",
    "fingersticks.csv",
    "no-header.csv",
    "nederlands.csv",
    "many-columns.csv",
    "tildes.txt",
    "told-separator.csv",
}
INSERTION, END = datetime.fromisoformat("2031-10-25T07:30:00"), datetime.fromisoformat("2031-10-27T17:00:00")
IN_THE_BROWSER = """async ({files, inserted, ended, beforeOnly}) => {
  const table = await import("/static/web/device/table.js");
  const {seriesOf} = await import("/static/web/device/series.js");
  const {paired} = await import("/static/web/device/pairing.js");
  const bytes = (text) => Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  try {
    const read = files.map((file) => seriesOf(table.rowsOf(table.decoded(bytes(file)))));
    const of = Object.fromEntries(read.map((series) => [series.kind, series]));
    if (!of.sensor || !of.meter) return {kinds: read.map((series) => series.kind)};
    return paired(of.sensor, of.meter, {inserted, ended, beforeOnly, prompt: "scheduled"});
  } catch (error) {
    if (error instanceof table.CannotRead) return {refused: error.message};
    throw error;
  }
}"""


def in_the_browser(page, *files, inserted=INSERTION, ended=END, before_only=False):
    import base64

    epoch = datetime(1970, 1, 1)  # noqa: DTZ001  (clocks as they were shown, on both sides)
    told = {
        "files": [base64.b64encode(data).decode() for data in files],
        "inserted": (inserted - epoch).total_seconds(),
        "ended": (ended - epoch).total_seconds(),
        "beforeOnly": before_only,
    }
    return page.evaluate(IN_THE_BROWSER, told)


def on_the_server(*files, inserted=INSERTION, ended=END, before_only=False):
    answers = Answers(inserted=inserted, ended=ended, prompt="scheduled", calibrated=before_only, apply_offset=False)
    (wear,) = prepare([Export(data) for data in files], answers).wears
    return list(msgspec.to_builtins(wear.pairs))


@pytest.fixture
def page(browser, live_server, member, settings):  # noqa: F811
    settings.ALLOWED_HOSTS = ["localhost", "127.0.0.1"]
    page = browser.new_page()
    enter(page, live_server.url, member)
    page.goto(f"{live_server.url}/wears/new/")
    yield page
    page.close()


def test_every_text_fixture_is_read_as_the_server_reads_it_or_refused(page):
    plain, sticks = ((EXPORTS / name).read_bytes() for name in ("plain.csv", "fingersticks.csv"))
    read, refused = set(), {}
    for name in TEXT:
        data = (EXPORTS / name).read_bytes()
        for other in (plain, sticks):
            found = in_the_browser(page, data, other)
            if "pairs" in found:
                read.add(name)
                assert found["pairs"] == on_the_server(data, other), name
                assert found["pairs"], name
            refused[name] = found.get("refused", "")
    assert read >= READ
    assert all(refused[name] for name in set(TEXT) - read)


@pytest.mark.parametrize("before_only", [False, True])
@pytest.mark.parametrize("shift_min", [0, 9])
def test_dense_traces_second_strips_and_odd_moments_agree_too(page, before_only, shift_min):
    sticks = [(when + timedelta(minutes=shift_min, seconds=40), value * 1.07) for when, value in trace()[7::23]]
    rows = [
        (when + timedelta(seconds=extra), value + extra / 50) for when, value in sticks for extra in (0, 0, 70, 110)
    ]
    meter = "\n".join(["taken;fingerstick (mg/dL)", *(f"{when:%Y-%m-%d %H:%M:%S};{value:.0f}" for when, value in rows)])
    files = (sensor_export(), meter.encode())
    times = {"inserted": INSERTED + timedelta(hours=3), "ended": ENDED - timedelta(hours=5), "before_only": before_only}
    found = in_the_browser(page, *files, **times)
    expected = on_the_server(*files, **times)
    assert [pair for pair in zip(found["pairs"], expected, strict=False) if pair[0] != pair[1]] == []
    assert len(found["pairs"]) == len(expected)
    assert len(found["pairs"]) > 25
    assert any(pair["replicate"] is not None for pair in found["pairs"])


@pytest.mark.parametrize(
    "data",
    [
        b"time,glucose mg/dL\n01/02/2031 07:00,100\n01/02/2031 07:05,101",
        b"time,glucose\n2031-02-01 07:00,20\n2031-02-01 07:05,21",
        b"2031-02-01 07:00,5,4\n2031-02-01 07:05,5,6",
        b"time;glucose mg/dL\n2031-02-30 07:00;100\n2031-03-01 07:05;101",
        b"time;glucose mg/dL\n2031-02-01 07:00;100\n2031-02-01 08:05;lunch",
        b"time;glucose mg/dL\n2031-02-01 07:00;100\n2031-02-01 08:05;5.6",
        b"\xff\x00\x01",
        b"",
    ],
)
def test_what_is_not_plain_is_refused_and_never_guessed(page, data):
    assert in_the_browser(page, data, meter_export())["refused"]


def test_names_serial_numbers_clock_times_and_the_rest_of_the_trace_never_leave(visit, member):  # noqa: F811
    page, sent = visit.page, []
    enter(page, visit.address, member)
    visit.open("/wears/new/")
    page.on("request", lambda request: sent.append((request.url, request.post_data or "")))
    rows = ["Serial;Owner;moment of the quokka;sensor glucose (mg/dL)"]
    rows += [f"SN-77-ZEBRA;Ada Quokka;{when:%Y-%m-%d %H:%M:%S};{value:.2f}" for when, value in trace()]
    files = [("ada-quokka-sensor.csv", "\n".join(rows).encode()), ("meter.csv", meter_export())]
    page.get_by_label("Two files", exact=True).set_input_files(
        [{"name": name, "mimeType": "text/csv", "buffer": data} for name, data in files]
    )
    page.get_by_role("button", name="Read them here").click()
    page.get_by_label("When was it put on?").fill(TIMES["inserted"])
    page.get_by_label("When did it come off?").fill(TIMES["ended"])
    page.get_by_label("Why were the fingersticks taken?").select_option("scheduled")
    page.get_by_role("button", name="Show what would leave this device").click()
    assert page.get_by_role("heading", name="This is all that leaves your device").is_visible()
    shown = page.locator("#device [data-shown]").text_content()
    lines = page.locator("#device [data-pairs] tr").all_inner_texts()
    assert len(lines) == len(json.loads(shown)[0]["record"]["pairs"])
    assert re.fullmatch(r"day 1, after \d+ h \d\d min\s+[\d.]+\s+[\d.]+", lines[0])
    check(visit, "on-device")
    assert [data for _, data in sent if data] == []  # so far nothing was sent at all
    page.get_by_role("button", name="Send this and go on").click()
    assert page.get_by_text("It has 22 pairs").is_visible()
    (body,) = [data for _, data in sent if data]
    told = parse_qs(body)
    assert set(told) == {"csrfmiddlewaretoken", "drafts"}
    assert told["drafts"] == [shown]
    (draft,) = json.loads(shown)
    assert set(draft["record"]) == {"glucose_unit", "worn_min", "calibrated", "pairs"}
    assert len(draft["record"]["pairs"]) == 22
    for secret in ("ZEBRA", "SN-77", "Ada", "quokka", "2031", "03:11", "csv"):
        assert secret not in shown
    beside = {round(pair["sensor"], 2) for pair in draft["record"]["pairs"]}
    rest = [value for _, value in trace() if value not in beside and value != int(value)]
    assert len(rest) > 700
    assert not any(f"{value:.2f}" in shown for value in rest[:300])


def test_a_file_that_is_not_plain_leads_to_the_other_way(visit, member):  # noqa: F811
    page = visit.page
    enter(page, visit.address, member)
    visit.open("/wears/new/")
    names = ("deutsch.csv", "fingersticks.csv")
    page.get_by_label("Two files", exact=True).set_input_files([EXPORTS / name for name in names])
    page.get_by_role("button", name="Read them here").click()
    page.get_by_role("alert").get_by_text("deutsch.csv").wait_for()
    assert page.get_by_role("alert").get_by_text("Use the way below").is_visible()
    check(visit, "on-device-refused")


def test_what_can_be_put_right_here_is_not_sent_to_the_other_way(visit, member):  # noqa: F811
    page = visit.page
    enter(page, visit.address, member)
    visit.open("/wears/new/")
    read, trouble = page.get_by_role("button", name="Read them here"), page.locator("#device").get_by_role("alert")
    read.click()
    assert trouble.inner_text() == "Choose two files: the sensor's export and the meter's."
    page.get_by_label("Two files", exact=True).set_input_files([EXPORTS / "plain.csv", EXPORTS / "fingersticks.csv"])
    read.click()
    show = page.get_by_role("button", name="Show what would leave this device")
    show.click()
    assert trouble.inner_text().startswith("Say when the sensor was put on and when it came off")
    page.get_by_role("button", name="where it breaks off: 27 Oct 2031, 18:45").click()
    page.get_by_label("When was it put on?").fill("2031-10-28T07:30")
    show.click()
    assert trouble.inner_text().startswith("A wear ends after it begins")
    page.get_by_label("When was it put on?").fill("2031-10-25T07:30")
    show.click()
    assert page.get_by_text("Worn for 2 days, 11 h 15 min.").is_visible()
    check(visit, "on-device-put-right")
