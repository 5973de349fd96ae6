"""Days worn by phase from shares still on."""

import numpy as np
import pytest
from lifelines import KaplanMeierFitter
from lifelines.utils import restricted_mean_survival_time

from pooling.hierarchy import Estimate
from pooling.outcomes import Survival
from pooling.parts.days import days_by_phase, worn_by_phase


def row(place, model, n_people, on, rated):
    def certain(share):
        return Estimate(100 * share, 100 * share, 100 * share)

    shares = {day: certain(share) for day, share in on.items()}
    return Survival(place, model, n_people, shares, certain(rated), {}, {})


def test_sensors_that_all_last_are_worn_their_whole_life():
    assert worn_by_phase({3: 1, 7: 1, 10: 1}) == {"day1": 1.0, "days2_7": 6.0, "day8_on": 3.0}


def test_the_area_is_the_restricted_mean_of_a_kaplan_meier_curve():
    """lifelines as the outside referee; steps of one day, so that both curves meet."""
    lasted = np.repeat([2.0, 5.0, 9.0, 14.0], [3, 4, 5, 40])
    curve = KaplanMeierFitter().fit(lasted, lasted < 14)
    share = {day: float((lasted >= day + 0.5).mean()) for day in range(1, 14)} | {14: float((lasted >= 14).mean())}
    assert sum(worn_by_phase(share).values()) == pytest.approx(restricted_mean_survival_time(curve, t=14), abs=0.2)


def test_models_weigh_by_their_people_and_end_with_their_life():
    rows = [
        row("calf", "demo-a14", 30, {3: 1.0, 7: 1.0, 10: 1.0, 14: 0.0}, 0.5),
        row("calf", "demo-b10", 10, {3: 1.0, 7: 1.0}, 0.4),
        row("calf", None, 40, {3: 0.0}, 0.0),
    ]
    found = days_by_phase(rows, {"demo-a14": 14, "demo-b10": 10})["calf"]
    later = (30 * (3 + 4 * 0.75) + 10 * 3 * 0.7) / 40
    assert found == pytest.approx({"day1": 1.0, "days2_7": 6.0, "day8_on": later})
