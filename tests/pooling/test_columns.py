import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pooling.columns import PairColumns, columns_from, pack, unpack
from pooling.errors import InvalidInput
from pooling.record import record_from

NAMES = [name for name in PairColumns.__dataclass_fields__ if name != "glucose_unit"]


def _columns(reference=(10000, 8000), sensor=(9000, -1), mark=(0, 1), **more):
    n = len(reference)
    given_columns = {
        "elapsed_min": np.arange(n) * 5,
        "reference_hundredths": reference,
        "sensor_hundredths": sensor,
        "mark": mark,
        "prompt": np.zeros(n),
        "source": np.zeros(n),
        "rate_hundredths": np.full(n, -32768),
        "gap_min": np.full(n, -1),
        "replicate_hundredths": np.full(n, -1),
        "glucose_unit": "mg/dL",
    }
    return PairColumns(**given_columns | more)


def test_columns_of_a_record(good_record):
    good_record["pairs"][1] |= {"sensor": None, "sensor_mark": "above", "gap_min": None, "rate_mg_dl_min": None}
    good_record["pairs"][2] |= {"prompt": "doubt", "source": "display", "replicate": 90.5}
    columns = columns_from(record_from(good_record))
    assert columns.n_pairs == 5
    assert columns.elapsed_min.tolist() == [95, 720, 1500, 4300, 11000]
    assert columns.reference_hundredths.tolist() == [11200, 14100, 8800, 20300, 6400]
    assert columns.sensor_hundredths.tolist() == [9800, -1, 9750, 18100, 7100]
    assert columns.mark.tolist() == [0, 2, 0, 0, 0]
    assert columns.prompt.tolist() == [0, 0, 1, 0, 0]
    assert columns.source.tolist() == [0, 0, 1, 0, 0]
    assert columns.rate_hundredths.tolist() == [-40, -32768, -40, -40, -40]
    assert columns.gap_min.tolist() == [2, -1, 2, 2, 2]
    assert columns.replicate_hundredths.tolist() == [-1, -1, 9050, -1, -1]
    assert np.isnan(columns.sensor_mg_dl).tolist() == [False, True, False, False, False]


def test_columns_are_in_order_of_time(good_record):
    good_record["pairs"].reverse()
    assert columns_from(record_from(good_record)).reference_hundredths.tolist() == [11200, 14100, 8800, 20300, 6400]


def test_no_pair_crosses_the_end_of_the_first_day(good_record):
    good_record["pairs"][0]["elapsed_min"] = 1439
    good_record["pairs"][1]["elapsed_min"] = 1440
    assert columns_from(record_from(good_record)).elapsed_min[:2].tolist() == [1435, 1440]


def test_mmol_is_kept_as_typed_and_converted_once():
    columns = _columns(reference=[1000], sensor=[390], mark=[0], glucose_unit="mmol/L")
    assert columns.reference_mg_dl.tolist() == [180.156]
    assert columns.sensor_mg_dl.tolist() == [3.9 * 18.0156]


def test_hundredths_bring_back_the_very_number_that_was_typed():
    # 181 * 1.15 = 208.15 is an edge of the 15 % rule; float32 would move it.
    columns = _columns(reference=[18100], sensor=[20815], mark=[0])
    assert columns.sensor_mg_dl.tolist() == [208.15]


_PAIR = st.tuples(
    st.integers(0, 40_000),
    st.integers(1, 60_000),
    st.one_of(st.integers(1, 60_000).map(lambda s: (s, 0)), st.sampled_from([(-1, 1), (-1, 2)])),
    st.integers(0, 3),
    st.integers(0, 1),
    st.integers(-2_000, 2_000) | st.just(-32768),
    st.integers(-1, 15),
    st.integers(-1, 60_000),
)


@given(st.lists(_PAIR, max_size=40), st.sampled_from(["mg/dL", "mmol/L"]))
def test_packing_loses_nothing(pairs, unit):
    rows = [(minute, r, s, mark, *rest) for minute, r, (s, mark), *rest in pairs]
    columns = PairColumns(*np.array(rows, dtype=np.int64).reshape(-1, 9).T, glucose_unit=unit)
    found = unpack(pack(columns))
    assert found.glucose_unit == unit
    for name in NAMES:
        assert getattr(found, name).tolist() == getattr(columns, name).tolist()


@given(st.binary(max_size=200))
def test_junk_is_refused(junk):
    with pytest.raises(InvalidInput):
        unpack(junk)


@given(st.data())
def test_any_changed_byte_is_noticed(data):
    block = bytearray(pack(_columns()))
    place = data.draw(st.integers(0, len(block) - 1))
    block[place] ^= data.draw(st.integers(1, 255))
    with pytest.raises(InvalidInput):
        unpack(bytes(block))


@pytest.mark.parametrize("cut", [1, 4, 30])
def test_a_cut_block_is_refused(cut):
    with pytest.raises(InvalidInput):
        unpack(pack(_columns())[:-cut])


@pytest.mark.parametrize(
    "wrong",
    [
        {"mark": [0, 3]},
        {"mark": [1, 1]},
        {"mark": [0, 0]},
        {"prompt": [0, 4]},
        {"source": [-1, 0]},
        {"reference_hundredths": [0, 8000]},
        {"sensor_hundredths": [0, -1]},
        {"elapsed_min": [-5, 0]},
        {"gap_min": [0]},
        {"glucose_unit": "mg"},
    ],
)
def test_columns_hold_only_what_a_record_can_say(wrong):
    with pytest.raises(InvalidInput):
        _columns(**wrong)


def test_columns_cannot_be_changed():
    with pytest.raises(ValueError, match="read-only"):
        _columns().mark[0] = 1


def test_a_choice_of_pairs():
    columns = _columns()
    assert columns.only(columns.mark == 0).reference_hundredths.tolist() == [10000]
