from datetime import UTC, datetime

import msgspec.structs
import numpy as np
import pytest

from pooling.errors import FileInvalid, InvalidInput
from pooling.preparation import Export
from pooling.preparation.tables import as_shown, moment, naming, on_one_clock, opened, series_of, table_of
from tests.pooling.preparation.files import drawn, two_files


def _tables():
    return [opened(place, export)[0] for place, export in enumerate(two_files(drawn()))]


def test_a_file_is_opened_under_its_proposal_or_the_confirmed_mapping():
    (trace, _) = two_files(drawn())
    table, proposal, questions = opened(0, trace)
    assert (table.kinds, proposal.mapping, questions) == (("sensor",), table.mapping, ())
    confirmed = msgspec.structs.replace(table.mapping, glucose_unit="mmol/L")
    again, proposal, _ = opened(0, Export(trace.data, mapping=confirmed))
    assert again.mapping == confirmed == proposal.mapping


def test_readings_come_back_as_they_were_written():
    exports, (trace, meter) = drawn(), _tables()
    np.testing.assert_array_equal(series_of(trace, "sensor").mg_dl, exports.sensor.mg_dl)
    np.testing.assert_array_equal(series_of(meter, "meter").time, exports.meter.time)


def test_what_is_wrong_with_a_file_names_it():
    with pytest.raises(FileInvalid, match=r"^file 2: the file is empty") as refused:
        opened(1, Export(b""))
    assert (refused.value.place, refused.value.reason) == (1, "the file is empty; export it anew")
    with pytest.raises(InvalidInput, match=r"^file 1: it has no sheet of that name"):
        opened(0, Export(two_files(drawn())[0].data, sheet="readings"))
    with pytest.raises(ZeroDivisionError), naming(0):
        raise ZeroDivisionError


def test_two_files_of_one_instrument_are_refused_and_named():
    trace, meter = _tables()
    assert table_of([trace, meter], "meter") is meter
    assert table_of([trace], "meter") is None
    with pytest.raises(InvalidInput, match="files 1 and 1 both hold the sensor's readings"):
        table_of([trace, trace], "sensor")


def test_a_table_without_a_zone_takes_that_of_the_other():
    trace, meter = _tables()
    assert on_one_clock([trace, meter]) == (trace, meter)
    lisbon = msgspec.structs.replace(trace.mapping, time_zone="Europe/Lisbon")
    zoned = [type(trace)(0, trace.sheet, lisbon), meter]
    assert [table.mapping.time_zone for table in on_one_clock(zoned)] == ["Europe/Lisbon"] * 2


@pytest.mark.parametrize(("zone", "utc"), [(None, "2031-07-01T08:00:00"), ("Europe/Berlin", "2031-07-01T06:00:00")])
def test_times_are_told_and_shown_as_the_clock_showed_them(zone, utc):
    told = moment(datetime(2031, 7, 1, 8, 0), zone)  # noqa: DTZ001
    assert str(told) == utc
    assert as_shown(told, zone) == "2031-07-01T08:00:00"


def test_a_time_with_an_offset_is_refused():
    with pytest.raises(InvalidInput, match="as the clock showed"):
        moment(datetime(2031, 7, 1, 8, 0, tzinfo=UTC), None)
