from pooling.checks.finding import UNIT_RATIO, wrong_unit
from pooling.columns import columns_from
from pooling.record import record_from
from pooling.units import MG_DL_PER_MMOL_L
from tests.pooling.checks.wears import each, found, wear


def test_well_kept_wears_stay_without_a_remark():
    remarks = [finding.code for seed in range(60) for finding in found(wear(seed))]
    assert len(remarks) <= 2


def test_numbers_are_those_of_pairs_in_which_the_sensor_showed_one():
    content = wear()
    content["pairs"][4] |= {"sensor": None, "sensor_mark": "below"}
    reference, sensor = columns_from(record_from(content)).numbers_mg_dl
    assert reference.size == sensor.size == 39
    assert (sensor > 0).all()


def test_every_finding_says_what_why_and_what_to_do():
    for finding in found(each(wear(), sensor=120)):
        assert finding.severity in ("note", "look", "stop")
        assert all(text.endswith(".") for text in (finding.seen, finding.why, finding.do))


def test_the_ratio_of_the_units_lies_in_the_middle_of_what_is_suspected():
    low, high = UNIT_RATIO
    assert low * 1.5 <= MG_DL_PER_MMOL_L <= high / 1.5
    assert wrong_unit("Seen.").severity == "stop"
