"""A trace and its clock times are nowhere once they have been looked at, and once their pairs have been uploaded.

Twelve readings of an export, away from every fingerstick, have values and moments that nothing else has. The service
is given them in every way in which it takes exports, and then everything it wrote is searched: the database and its
journals, the broker's files and keys, logs, and whatever was left in temporary places. The same search then finds what
is planted there.
"""

import http.cookiejar
import json
import logging
import os
import tempfile
import urllib.error
import urllib.parse
import urllib.request
import uuid

import pytest

from tests.redteam.scene import staged
from tests.server.canaries import broker_bytes, database_bytes, found_in, found_in_files, moment, reading
from tests.server.exports import OF_THE_RECORD, PREVIEW, TIMES, meter_export, preview, sensor_export, trace
from tests.server.records import pairs, record

PLACES = range(110, 122)  # fingersticks are beside 100 and 140
VALUES = [round(107.13 + 17.28 * index, 2) for index in range(len(PLACES))]
TRACE = [(when, VALUES[k - PLACES[0]] if k in PLACES else value) for k, (when, value) in enumerate(trace())]
MOMENTS = [TRACE[k][0] for k in PLACES]
CANARIES = (*map(reading, VALUES), *map(moment, MOMENTS))
SENSOR, METER = sensor_export(TRACE), meter_export()
TOLD = {"answers": TIMES | {"prompt": "scheduled"}, "record": OF_THE_RECORD}
# The same as a typed sheet with something wrong in its middle, and as a record with a fault.
UNREADABLE = SENSOR.replace(f"{VALUES[5]:.2f}".encode(), f"{VALUES[5]:.2f} or so".encode())
FAULTY = record(pairs=[{**pairs(1)[0], "reference": value, "sensor": value, "clock": "08:15"} for value in VALUES])


def test_the_export_holds_every_canary():
    found = found_in(SENSOR, CANARIES)
    assert [canary.name for canary in CANARIES if not any(canary.name in finding for finding in found)] == []
    assert found_in(METER, CANARIES) == []


# ---- in one process --------------------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_the_database_and_the_log_hold_nothing_of_a_trace(contributor, catalogue, caplog):
    with caplog.at_level(logging.DEBUG):
        (wear,) = preview(contributor, SENSOR, METER, told=TOLD).json()["wears"]
        assert wear["report"]
        assert preview(contributor, UNREADABLE, METER, told=TOLD).status_code == 422
        assert contributor.api.post(PREVIEW, FAULTY, format="json").status_code == 422
        posted = {"format": "json", "HTTP_IDEMPOTENCY_KEY": "1"}
        assert contributor.api.post("/api/v1/wears/", FAULTY, **posted).status_code == 422
        uploaded = contributor.api.post("/api/v1/wears/", wear["record"], **posted)
        assert uploaded.status_code == 201
    assert found_in(database_bytes(), CANARIES) == []
    assert found_in(caplog.text.encode(), CANARIES) == []
    # And the pairs are where they belong.
    shown = [pair["sensor"] for pair in wear["record"]["pairs"]]
    assert found_in(database_bytes(), map(reading, shown))


@pytest.mark.django_db
def test_no_file_is_written_on_the_way(contributor, catalogue, monkeypatch):
    def refuse(*_, **__):
        pytest.fail("a temporary file was asked for")

    for name in ("NamedTemporaryFile", "TemporaryFile", "SpooledTemporaryFile", "mkstemp", "mkdtemp"):
        monkeypatch.setattr(tempfile, name, refuse)
    remarks = b";" + b"x" * 1900 + b";" + b"y" * 1900
    large = b"\n".join(line + remarks for line in SENSOR.splitlines())
    assert len(large) > 2_621_440  # from here on the framework would by itself write a file
    assert preview(contributor, large, METER, told=TOLD).status_code == 200


# ---- a running service -----------------------------------------------------------------------------------------------


def multipart(*files, told):
    mark = uuid.uuid4().hex
    parts = [
        *(b'name="file"; filename="week.csv"\r\nContent-Type: text/csv\r\n\r\n' + data for data in files),
        b'name="told"\r\n\r\n' + json.dumps(told).encode(),
    ]
    head = f"--{mark}\r\nContent-Disposition: form-data; ".encode()
    return b"\r\n".join([*(head + part for part in parts), f"--{mark}--\r\n".encode()]), mark


def look(visitor, *files):
    body, mark = multipart(*files, told=TOLD)
    headers = {"Authorization": f"Bearer {visitor.token}", "Content-Type": f"multipart/form-data; boundary={mark}"}
    return send(urllib.request.Request(visitor.address + PREVIEW, body, headers))


def send(request, opener=urllib.request.urlopen):
    try:
        with opener(request, timeout=60) as answer:
            return answer.status, answer.read()
    except urllib.error.HTTPError as error:
        return error.code, error.read()


def type_pairs(address):
    """As a browser does it: fetch the page, send the form with its token and its cookie."""
    jar = http.cookiejar.CookieJar()
    opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(jar)).open
    send(urllib.request.Request(f"{address}/pairs/"), opener)
    token = next(cookie.value for cookie in jar if cookie.name == "csrf")
    form = {"csrfmiddlewaretoken": token, "rows": "12", "site": "calf", "unit": "mg/dL"}
    for number, value in enumerate(VALUES, start=1):
        form |= {f"reference-{number}": f"{value:.2f}", f"sensor-{number}": f"{value:.2f}"}
    return send(urllib.request.Request(f"{address}/pairs/", urllib.parse.urlencode(form).encode()), opener)


def written(scene):
    """What is found in everything that the service wrote."""
    found = found_in_files(scene.service.place, CANARIES)
    if "DATABASE_URL" in scene.service.environment:
        found += found_in(bytes.fromhex(scene.ask("files")), CANARIES)
    if "REDIS_URL" in os.environ:
        found += found_in(broker_bytes(os.environ["REDIS_URL"]), CANARIES)
    return found


def test_a_service_has_written_nothing_of_a_trace(tmp_path, monkeypatch):
    place = tmp_path / "up"
    (place / "tmp").mkdir(parents=True)
    monkeypatch.setenv("TMPDIR", str(place / "tmp"))
    with staged(place) as scene:
        member = scene.join()
        status, body = look(member.api, SENSOR, METER)
        assert status == 200
        (wear,) = json.loads(body)["wears"]
        assert look(member.api, UNREADABLE, METER)[0] == 422
        assert member.api.post(PREVIEW, FAULTY, expect=422)
        assert member.api.post("/api/v1/wears/", FAULTY, expect=422)
        batch = {"wears": [{"key": "1", "record": wear["record"]}, {"key": "2", "record": FAULTY}]}
        verdicts = member.api.post("/api/v1/wears/batch/", batch, expect=200).json["verdicts"]
        assert [each["verdict"] for each in verdicts] == ["stored", "refused"]
        status, page = type_pairs(scene.service.address)
        assert (status, b"12 pairs measured" in page) == (200, True)
        assert written(scene) == []

        # The same search finds them where they may be: as the pairs of a record, and in a file left behind.
        kept = record(pairs=[{**one, "sensor": value} for one, value in zip(pairs(12), VALUES, strict=True)])
        member.api.post("/api/v1/wears/", kept)
        (place / "tmp" / "leftover").write_bytes(SENSOR)
        found = written(scene)
        assert any("leftover: moment" in finding for finding in found)
        assert any("hundredths" in finding and "leftover" not in finding for finding in found)
