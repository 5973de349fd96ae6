import numpy as np
import pytest

from pooling.report.words import WHEN_THEY_DISAGREE, group_labels, in_words, meter_words, rules


def _ratios(wear_of, ratios):
    reference = np.resize([80.0, 150.0, 220.0, 60.0], len(ratios))
    return wear_of(reference, np.round(reference * ratios, 2), every_min=240)


@pytest.mark.parametrize(
    ("ratio", "said"), [(1.03, "rather high"), (0.97, "rather low"), (1.01, "neither high nor low")]
)
def test_the_words_follow_the_bias(wear_of, ratio, said):
    assert f"and read {said}." in _ratios(wear_of, np.full(12, ratio)).report()["in_words"]


def test_life_units_come_first(wear_of):
    report = _ratios(wear_of, np.resize([1.1, 0.9], 20)).report()
    first, *_ = in_words(report, "mg/dL")
    level = report["shows"][0]
    assert first == (
        "When the fingerstick was 70, the sensor mostly showed "
        f"{level['from_mg_dl']:.0f} to {level['to_mg_dl']:.0f} mg/dL."
    )
    assert any(
        sentence.startswith("When the sensor said 100, the fingerstick") for sentence in in_words(report, "mg/dL")
    )


def test_the_same_words_in_the_readers_unit(wear_of):
    words = " ".join(in_words(_ratios(wear_of, np.resize([1.1, 0.9], 20)).report(), "mmol/L"))
    # 100, 10 and 70 mg/dL are 5.55, 0.555 and 3.89 mmol/L (18.0156 mg/dL each, molar mass of glucose).
    assert "Beside a fingerstick of 5.6 mmol/L the sensor was off by about 0.6 mmol/L on average" in words
    assert "When the fingerstick was 3.9, the sensor mostly showed" in words
    assert "mg/dL" not in words


def test_one_pair_says_next_to_nothing(wear_of):
    assert in_words(wear_of([100], [120]).report(), "mg/dL") == [
        "One pair says next to nothing of how this sensor reads."
    ]
    assert in_words(wear_of([], []).report(), "mmol/L") == []


def test_lows_are_counted_and_few_of_them_promise_nothing(wear_of):
    said = " ".join(in_words(wear_of([60, 65, 90], [64, 68, 69]).report(), "mg/dL"))
    # Wilson 95 % of 0 in 2: upper end 3.84 / (2 + 3.84) = 65.8 %.
    assert (
        "Of 2 low fingersticks, the sensor missed none; in the long run those that it misses could be anything from 0 "
        "to 66 in 100." in said
    )
    assert "Of 3 lows that the sensor showed, 1 was false by the fingerstick;" in said


@pytest.mark.parametrize(
    ("fingerstick", "sensor", "said", "disagree"),
    [
        (
            60,
            64,
            ["One fingerstick was low, and the sensor was low as well;", "the fingerstick was low as well;"],
            False,
        ),
        (60, 84, ["One fingerstick was low, and the sensor missed it;"], True),
        (90, 64, ["The sensor showed one low, and the fingerstick was not low;"], True),
    ],
)
def test_one_low_is_told_as_one_and_what_to_do_where_the_two_disagreed(wear_of, fingerstick, sensor, said, disagree):
    words = in_words(wear_of([fingerstick, 120, 130], [sensor, 121, 128]).report(), "mg/dL")
    assert [sentence for sentence in said if any(sentence in word for word in words)] == said
    assert (words[-1] == WHEN_THEY_DISAGREE) is disagree


def test_a_margin_too_narrow_to_show_is_said_in_words(wear_of):
    even = wear_of(np.linspace(90, 110, 20), np.linspace(90, 110, 20) * 1.04).report()
    assert even["intervals"]["mard_pct"]
    assert "could as well be a little more or less than 0.2 mmol/L" in " ".join(in_words(even, "mmol/L"))


@pytest.mark.parametrize(
    ("basis", "said"),
    [
        ({"basis": "replicates", "band_pct": None}, "12 second strips give the meter a scatter of its own"),
        ({"basis": "class", "band_pct": 10}, "promises 95 % of its readings within 10 %"),
        ({"basis": "assumed", "band_pct": 15}, "was not said. If it just meets ISO 15197:2013"),
    ],
)
def test_where_the_meters_error_comes_from(basis, said):
    meter = {"n_replicates": 12, "cv_pct": 5.0, "mard_of_meter_pct": 4.0, "mard_without_meter_pct": 8.1} | basis
    assert said in meter_words(meter, 9.0)
    assert "about 8.1 % would be the sensor's" in meter_words(meter, 9.0)
    assert "could explain all of it" in meter_words(meter | {"mard_without_meter_pct": 0.0}, 3.5)


def test_names_and_rules_in_either_unit():
    assert group_labels("mg/dL")["reference_mid"] == "70 to 180 mg/dL"
    assert group_labels("mmol/L")["reference_mid"] == "3.9 to 10.0 mmol/L"
    # 1 mg/dL is 0.0555 mmol/L.
    assert group_labels("mmol/L")["rising"] == "rising, over 0.056 mmol/L a minute"
    assert rules("mg/dL")["within_20_20_pct"].startswith("within 20 mg/dL of fingersticks below 100 mg/dL, within 20 %")
