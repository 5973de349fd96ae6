from datetime import datetime, timedelta

import numpy as np
import pytest

from pooling.errors import InvalidInput
from pooling.importing.types import Series
from pooling.pairing import pair
from pooling.preparation import Answers, Export, prepare
from tests.pooling.preparation.files import TYPED, as_csv, codes, drawn, told, two_files


def test_a_wear_of_two_files_is_what_pairing_makes_of_the_readings():
    exports = drawn()
    (wear,) = prepare(two_files(exports), told(exports)).wears
    direct = pair(exports.sensor, exports.meter, inserted=exports.inserted, ended=exports.ended, prompt="scheduled")
    assert (wear.pairs, wear.unmatched) == (direct.pairs, direct.unmatched)
    assert (wear.worn_min, wear.glucose_unit, wear.findings) == (14_400, "mg/dL", ())


def test_the_record_is_in_the_meters_unit_unless_told_otherwise():
    exports = drawn()
    files = [two_files(exports)[0], Export(as_csv(exports.meter, "fingerstick mmol/L", factor=18.0156, decimals=1))]
    (wear,) = prepare(files, told(exports)).wears
    assert wear.glucose_unit == "mmol/L"
    assert max(one.reference for one in wear.pairs) < 34
    (wear,) = prepare(files, told(exports, glucose_unit="mg/dL")).wears
    assert max(one.reference for one in wear.pairs) > 34


def test_times_of_insertion_and_end_are_asked_with_the_ends_of_the_trace_to_choose_from():
    exports = drawn()
    later = Series(
        exports.sensor.time + np.where(np.arange(exports.sensor.n_readings) < 1000, 0, 7200).astype("timedelta64[s]"),
        *(getattr(exports.sensor, name) for name in ("mg_dl", "mark", "line")),
    )
    prepared = prepare([Export(as_csv(later, "sensor mg/dL")), two_files(exports)[1]])
    assert codes(prepared)[:2] == [(None, "inserted"), (None, "ended")]
    inserted, ended = (asked.question for asked in prepared.questions[:2])
    assert inserted.options == (str(later.time[0]), str(later.time[1000]))
    assert ended.options == (str(later.time[999]), str(later.time[-1]))
    assert (inserted.lines, ended.lines) == ((2, 1002), (1001, 2881))
    assert prepared.wears == ()


def test_an_offset_is_asked_about_and_taken_off_only_when_confirmed():
    exports = drawn(offset_min=60.0)
    files = two_files(exports)
    asked = prepare(files, told(exports))
    assert codes(asked) == [(None, "apply_offset")]
    assert asked.questions[0].question.options == ("yes", "no")
    assert not asked.is_complete
    assert "clocks_differ" in {finding.code for finding in asked.wears[0].findings}
    left = prepare(files, told(exports, apply_offset=False))
    assert left.is_complete
    assert left.wears[0].pairs == asked.wears[0].pairs
    taken = prepare(files, told(exports, apply_offset=True))
    assert taken.is_complete
    assert abs(taken.wears[0].pairing.applied_offset_min - 60) <= taken.wears[0].offset.uncertainty_min
    assert taken.wears[0].findings == ()


def test_a_calibrated_sensor_is_paired_with_earlier_readings_only():
    exports = drawn()
    (wear,) = prepare(two_files(exports), told(exports, calibrated=True)).wears
    assert wear.pairing.rate_from == "before"
    assert wear.calibrated


@pytest.mark.parametrize(("kept", "missing"), [(0, "the fingersticks"), (1, "the sensor's trace")])
def test_a_missing_file_is_asked_for(kept, missing):
    prepared = prepare([two_files(drawn())[kept]], told(drawn()))
    assert codes(prepared) == [(None, "file")]
    assert missing in prepared.questions[0].question.text


def test_one_file_of_both_instruments_is_enough():
    exports = drawn()
    rows = sorted(
        f"{str(time).replace('T', ' ')};{name};{value:.0f}"
        for name, series in (("sensor", exports.sensor), ("fingerstick", exports.meter))
        for time, value in zip(series.time, series.mg_dl, strict=True)
    )
    (wear,) = prepare([Export("\n".join(["time;kind;mg/dL", *rows]).encode())], told(exports)).wears
    assert [one.sensor for one in wear.pairs] == [one.sensor for one in _paired(exports)]


def _paired(exports):
    return pair(exports.sensor, exports.meter, inserted=exports.inserted, ended=exports.ended).pairs


def test_files_that_count_from_the_insertion_need_no_time_of_day():
    sensor = "minutes since insertion;sensor mg/dL\n" + "\n".join(f"{5 * n};{100 + n % 7}" for n in range(200))
    meter = "minutes since insertion;fingerstick mg/dL\n" + "\n".join(f"{60 * n + 1};{104 + n}" for n in range(1, 9))
    files = [Export(sensor.encode()), Export(meter.encode())]
    assert (None, "worn_min") in codes(prepare(files))
    (wear,) = prepare(files, Answers(worn_min=1000)).wears
    assert [one.elapsed_min for one in wear.pairs] == [61 + 60 * n for n in range(8)]
    with pytest.raises(InvalidInput, match="counts from the insertion"):
        prepare([files[0], two_files(drawn())[1]], Answers(worn_min=1000))


def test_typed_wears_keep_their_site_their_times_and_their_incomplete_rows():
    first, second = prepare([Export(TYPED)]).wears
    assert (first.label, first.site, first.worn_min, first.glucose_unit) == ("A", "thigh.front", 14_400, "mmol/L")
    assert [(one.line, one.reason) for one in first.unmatched] == [(3, "incomplete_row")]
    assert [(one.elapsed_min, one.reference, one.replicate, one.prompt) for one in first.pairs] == [
        (240, 5.6, 5.8, "scheduled"),
        (3150, 9.4, None, "doubt"),
    ]
    assert (second.site, second.worn_min, second.offset) == ("calf", None, None)
    assert [finding.code for finding in first.findings] == ["too_few_pairs"]


def test_one_end_that_is_told_does_not_end_several_wears():
    told_end = Answers(ended=datetime(2031, 3, 25, 8))  # noqa: DTZ001
    assert [wear.worn_min for wear in prepare([Export(TYPED)], told_end).wears] == [14_400, None]


def test_typed_pairs_without_an_insertion_take_the_times_that_are_told():
    rows = ["day;fingerstick mg/dl;sensor mg/dl", *(f"{day:02}.03.2031 12:00;{100 + day};98" for day in (1, 2, 15, 16))]
    export = Export("\n".join(rows).encode())
    assert (0, "inserted") in codes(prepare([export]))
    start = datetime(2031, 3, 1, 8)  # noqa: DTZ001
    answers = Answers(inserted=start, further_inserted=(start + timedelta(days=14),), prompt="doubt")
    wears = prepare([export], answers).wears
    assert [[one.elapsed_min for one in wear.pairs] for wear in wears] == [[240, 1680]] * 2
    assert {one.prompt for wear in wears for one in wear.pairs} == {"doubt"}


def test_an_end_that_is_told_is_that_of_a_single_typed_wear():
    rows = ["day;fingerstick mg/dl;sensor mg/dl", "15.03.2031 12:00;100;98", "16.03.2031 12:00;110;112"]
    start = datetime(2031, 3, 15, 8)  # noqa: DTZ001
    export, ended = Export("\n".join(rows).encode()), start + timedelta(days=1)
    (wear,) = prepare([export], Answers(inserted=start, ended=ended)).wears
    assert wear.worn_min == 1440
    assert "outside_wear" in {finding.code for finding in wear.findings}
