import pytest

from server.core.catalogue import list_model
from server.core.errors import Invalid
from server.wears.typed import TypedPair, report_of_typed

pytestmark = pytest.mark.django_db


def pair(day=1, reference=100.0, sensor=110.0, sensor_mark=None, prompt="scheduled"):
    return TypedPair(day=day, reference=reference, sensor=sensor, sensor_mark=sensor_mark, prompt=prompt)


def report(*pairs, **changes):
    return report_of_typed(pairs, **{"glucose_unit": "mg/dL", "site": "calf"} | changes)


def test_the_figures_are_those_of_the_pairs():
    # 10, 10 and 5 per cent off, by hand; two high, one low.
    found = report(pair(), pair(2, 200, 180), pair(3, 80, 84))
    assert (found["n_pairs"], found["mard_pct"], found["relative_bias_pct"]) == (3, 8.33, 1.67)
    assert found["site_label"] == "calf"
    assert "too few to say" in found["sentences"][0]
    assert found["measures"].rows[0][1:] == ("8.3 %", "too few")


def test_sentences_speak_the_unit_that_was_typed():
    typed = [pair(day, 5.0 + day / 2, 5.5 + day / 2) for day in range(1, 10)]
    found = report(*typed, glucose_unit="mmol/L")
    assert found["intervals"]["mard_pct"]
    assert any("mmol/L" in sentence for sentence in found["sentences"])
    assert not any("mg/dL" in sentence for sentence in found["sentences"])


def test_what_calibrated_or_showed_no_number_is_counted_and_not_measured():
    assert report(pair(prompt="calibration"))["measures"] is None
    found = report(pair(), pair(2, prompt="calibration"), pair(3, 60, None, "below"))
    assert (found["n_pairs"], found["n_calibrating"], found["n_out_of_range"]) == (1, 1, 1)
    assert found["calibrated"]


def test_a_fault_points_at_the_pair_it_is_in():
    with pytest.raises(Invalid) as refusal:
        report(pair(), pair(2, 900, 880), pair(3, 100, None), site="calf")
    pointers = {fault["pointer"] for fault in refusal.value.faults}
    assert pointers == {"#/pairs/1/reference", "#/pairs/1/sensor", "#/pairs/2/sensor"}
    assert "900" not in str(refusal.value.faults)


def test_whether_the_site_is_off_label_is_said_where_the_catalogue_knows_the_model():
    list_model("demo-a14", rated_life_days=14, licensed={"upper_arm.back": "all", "calf": "adult"})
    told = {
        (model, site, ages): report(pair(), sensor_model=model, site=site, ages=ages)["licence"]["status"]
        for model, site, ages in (
            ("demo-a14", "upper_arm.back", None),
            ("demo-a14", "chest", None),
            ("demo-a14", "calf", "child"),
            ("demo-none", "calf", None),
            (None, "calf", None),
        )
    }
    assert list(told.values()) == ["named", "off_label", "off_label_for_age", "not_known", "not_known"]


def test_nothing_is_said_about_the_minutes_between_pairs_of_one_day():
    found = report(pair(), pair(1, 240, 230), pair(1, 60, 62), pair(1, 60, 62))
    assert [finding["code"] for finding in found["findings"]] == ["too_few_pairs"]
