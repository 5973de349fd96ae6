from datetime import datetime

import pytest

from pooling.errors import InvalidInput, RecordInvalid
from pooling.preparation import Answers, Export, draft_record, prepare
from pooling.record import record_from
from tests.pooling.preparation.files import TYPED, codes, drawn, told, two_files

TOLD = {"sensor_model": "demo-a14", "site": "thigh.front", "end_reason": "completed", "assignment": "chosen"}


def test_two_files_and_the_answers_make_a_valid_record():
    exports = drawn()
    prepared = prepare(two_files(exports), told(exports))
    assert (prepared.questions, prepared.is_complete) == ((), True)
    (wear,) = prepared.wears
    record = record_from(draft_record(wear, TOLD))
    assert record.pairs == wear.pairs
    assert (record.worn_min, record.site, record.meter_class) == (14_400, "thigh.front", "unknown")


def test_what_nobody_told_is_named_when_the_record_is_checked():
    first, second = prepare([Export(TYPED)]).wears
    assert draft_record(first, {})["site"] == "thigh.front"
    with pytest.raises(RecordInvalid) as refused:
        record_from(draft_record(second, TOLD | {"site": "calf"}))
    assert [(fault.pointer, fault.code) for fault in refused.value.faults] == [("#/worn_min", "missing")]
    assert record_from(draft_record(second, TOLD | {"worn_min": 6000})).worn_min == 6000


def test_what_a_table_says_of_one_wear_stands_before_what_is_told_for_all():
    first, second = prepare([Export(TYPED)]).wears
    told = {"site": "thigh.outer", "worn_min": 6000}
    drafts = [draft_record(wear, told) for wear in (first, second)]
    assert [draft["site"] for draft in drafts] == ["thigh.front", "calf"]
    assert [draft["worn_min"] for draft in drafts] == [14_400, 6000]


def test_what_a_record_wants_to_know_is_asked_beside_the_wears():
    prepared = prepare([Export(TYPED)])
    assert codes(prepared) == [(None, "worn_min")]
    assert prepared.is_complete
    without_reasons = prepare(two_files(drawn()), told(drawn(), prompt=None))
    assert codes(without_reasons) == [(None, "prompt")]


def test_questions_of_a_table_come_before_any_wear():
    ambiguous = b"day;fingerstick;sensor\n02/03/2031 12:00;21;22\n03/04/2031 12:00;25;26\n"
    prepared = prepare([Export(ambiguous)])
    assert {code for _, code in codes(prepared)} >= {"glucose_unit", "date_order", "inserted"}
    assert prepared.wears == ()
    assert prepared.proposals[0].mapping.glucose_unit is None


def test_an_insertion_that_no_column_tells_is_asked_for_until_it_is_told():
    pairs = b"day;fingerstick mg/dL;sensor mg/dL\n02.03.2031 12:00;121;122\n03.03.2031 12:00;125;126\n"
    first = prepare([Export(pairs)])
    confirmed = Export(pairs, mapping=first.proposals[0].mapping)
    assert codes(first) == codes(prepare([confirmed])) == [(0, "inserted")]
    (wear,) = prepare([confirmed], Answers(inserted=datetime(2031, 3, 1, 12))).wears  # noqa: DTZ001
    assert [pair.elapsed_min for pair in wear.pairs] == [1440, 2880]


def test_nothing_in_nothing_out():
    prepared = prepare([], Answers())
    assert (prepared.proposals, prepared.questions, prepared.wears, prepared.is_complete) == ((), (), (), False)


def test_a_file_that_cannot_be_read_is_named_and_none_of_it_repeated():
    with pytest.raises(InvalidInput, match=r"^file 2: ") as refused:
        prepare([*two_files(drawn())[:1], Export(b"secret words that are no table")])
    assert "secret" not in str(refused.value)
