import pytest
from hypothesis import given
from hypothesis import strategies as st

from pooling.columns import columns_from
from pooling.record import record_from
from server.wears.holdings import pairs_of, readings_csv, wears_held
from tests.server.records import pairs, record


@given(
    st.sampled_from(["mg/dL", "mmol/L"]),
    st.sampled_from([(None, "below"), (None, "above"), (1, None)]),
    st.none() | st.integers(-2000, 2000),
    st.none() | st.integers(0, 15),
    st.booleans(),
)
def test_pairs_come_back_as_they_were_sent(unit, shown, rate, gap_min, again):
    value = 112 if unit == "mg/dL" else 6.2
    sent = {
        "elapsed_min": 95,
        "reference": value,
        "sensor": shown[0] and value,
        "sensor_mark": shown[1],
        "prompt": "doubt",
        "source": "display",
        "rate_mg_dl_min": None if rate is None else rate / 100,
        "gap_min": gap_min,
        "replicate": value if again else None,
    }
    columns = columns_from(record_from(record(glucose_unit=unit, pairs=[sent])))
    assert list(pairs_of(columns)) == [sent]


@pytest.mark.django_db
def test_wears_are_those_of_the_account_alone(upload, contributor, stranger):
    own = upload(contributor, seed=4)
    upload(stranger, seed=5)
    (held,) = wears_held(contributor.account)
    assert held["id"] == own.id
    assert [pair["reference"] for pair in held["record"]["pairs"]] == [pair["reference"] for pair in pairs(seed=4)]
    assert readings_csv(contributor.account).count(str(own.id)) == 20
