import msgspec
import pytest

from pooling.quiet import Quiet
from pooling.record import parse_record
from tests.server.records import raw


class Reading(Quiet, frozen=True):
    value: float


def test_neither_text_nor_errors_about_it_hold_the_value():
    reading = Reading(217.31)
    assert f"{reading} {reading!r} {[reading]}" == "Reading(…) Reading(…) [Reading(…)]"
    with pytest.raises(AttributeError) as caught:
        reading.value = 98.43
    assert "217" not in str(caught.value)


def test_it_is_read_written_and_compared_as_before():
    assert msgspec.json.decode(msgspec.json.encode(Reading(217.31)), type=Reading) == Reading(217.31) != Reading(98.43)


def test_a_record_and_its_pairs_print_nothing():
    record = parse_record(raw())
    assert f"{record!r} {record.pairs[:1]!r} {record.skin!r}" == "WearRecord(…) (Pair(…),) Skin(…)"
