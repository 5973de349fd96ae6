import numpy as np
import pytest

from pooling.report.meter import meter_part


@pytest.mark.parametrize(
    ("meter_class", "basis", "cv_pct", "of_meter_pct"),
    [
        # 95 % within b % and unbiased: CV = b / 1.96; MARD = 0.7979 CV (half-normal mean).
        ("within-10-pct", "class", 5.10, 4.1),
        ("within-15-pct", "class", 7.65, 6.1),
        ("within-20-pct", "class", 10.20, 8.1),
        ("unknown", "assumed", 7.65, 6.1),
    ],
)
def test_a_declared_class_gives_its_share(wear_of, meter_class, basis, cv_pct, of_meter_pct):
    found = meter_part(wear_of([], []).columns, meter_class, 12.0)
    assert (found["basis"], found["cv_pct"], found["mard_of_meter_pct"]) == (basis, cv_pct, of_meter_pct)


def test_seen_and_true_errors_add_in_squares(wear_of):
    # A sensor of CV 8 % beside a meter of CV 7.65 %: seen MARD 0.7979 sqrt(8^2 + 7.65^2) = 8.83, the sensor's own 6.38.
    found = meter_part(wear_of([], []).columns, "within-15-pct", 8.83)
    assert found["mard_without_meter_pct"] == pytest.approx(6.38, abs=0.05)


def test_a_meter_may_explain_everything(wear_of):
    assert meter_part(wear_of([], []).columns, "within-20-pct", 7.0)["mard_without_meter_pct"] == 0


def test_second_strips_speak_for_the_meter(wear_of):
    # Strips with 5 % error each, independent: the coefficient of variation comes back.
    rng = np.random.default_rng(3)
    true = rng.uniform(70, 250, 1_500)
    first, second = (np.round(true * rng.lognormal(0, 0.05, true.size), 2) for _ in range(2))
    wear = wear_of(first, true.round(2), every_min=10, replicate=second.tolist())
    found = meter_part(wear.columns, "within-20-pct", 9.0)
    assert (found["basis"], found["n_replicates"], found["band_pct"]) == ("replicates", 1_500, None)
    assert found["cv_pct"] == pytest.approx(5.0, abs=0.3)


def test_seven_second_strips_are_too_few(wear_of):
    wear = wear_of([100.0] * 9, [100.0] * 9, replicate=[104.0] * 7 + [None] * 2)
    assert meter_part(wear.columns, "within-15-pct", 9.0)["basis"] == "class"
