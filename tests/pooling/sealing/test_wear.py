from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import kstat

from pooling.errors import InvalidInput
from pooling.sealing.version import CHANNELS, SEAL_VERSION_1
from pooling.sealing.wear import has_accuracy, kurtosis_parts, wear_values
from tests.calibration.pools import Stratum


def stratum(n_pairs=24, seed=3):
    return Stratum.of(0.02 + 0.1 * np.random.default_rng(seed).standard_normal(n_pairs))


def test_fewer_than_eight_pairs_never_enter():
    few = stratum(7)
    assert not has_accuracy(few)
    assert has_accuracy(stratum(8))
    with pytest.raises(InvalidInput, match="needs 8 pairs"):
        wear_values(few, 0, SEAL_VERSION_1)


def test_a_stuck_sensor_has_no_log_variance():
    assert not has_accuracy(replace(stratum(), s=0.0))


def test_weights_depend_on_the_number_of_pairs_alone():
    good, bad = wear_values(stratum(seed=3), 0, SEAL_VERSION_1), wear_values(stratum(seed=4), 0, SEAL_VERSION_1)
    for channel in CHANNELS:
        assert good[channel].value != bad[channel].value or channel.startswith(("rate", "tail"))
        assert good[channel].weight == bad[channel].weight
    more = wear_values(stratum(100), 0, SEAL_VERSION_1)
    assert all(more[channel].weight > good[channel].weight for channel in CHANNELS)


@pytest.mark.parametrize("channel", ["location", "dispersion", "direct"])
def test_value_is_unbiased_and_its_stated_noise_is_its_variance(channel):
    """4,000 wears of 12 normal readings: mean and variance within four Monte Carlo errors; kurtosis set to normal."""
    version = replace(SEAL_VERSION_1, kurtosis=0.0)
    rng = np.random.default_rng(11)
    sigma, n_wears = 0.08, 4000
    found = [wear_values(Stratum.of(sigma * rng.standard_normal(12)), 0, version)[channel] for _ in range(n_wears)]
    values, noise = np.array([(wear.value, wear.noise) for wear in found]).T
    truth = {
        "location": 0.0,
        "dispersion": 2 * np.log(sigma),
        # E|exp(Z)-1| for normal Z with this sd, by quadrature.
        "direct": np.trapezoid(
            np.abs(np.expm1(sigma * (x := np.linspace(-8, 8, 20001)))) * np.exp(-x * x / 2) / np.sqrt(2 * np.pi), x
        ),
    }[channel] - version.channels[channel].reference
    assert values.mean() == pytest.approx(truth, abs=4 * values.std() / np.sqrt(n_wears))
    assert noise.mean() / values.var() == pytest.approx(1, abs=0.1)


def test_rates_are_shares_of_pairs():
    wear = stratum(40)
    values = wear_values(wear, 0, SEAL_VERSION_1)
    assert values["rate15"].value + 0.8 == pytest.approx(wear.k15 / 40)
    assert values["rate20"].value + 0.9 == pytest.approx(wear.k20 / 40)


def test_kurtosis_is_fishers_k4_over_k2_squared():
    """Against scipy.stats.kstat on the readings themselves."""
    readings = np.random.default_rng(5).standard_t(5, 30)
    assert kurtosis_parts(Stratum.of(readings)) == pytest.approx(kstat(readings, 4) / kstat(readings, 2) ** 2, rel=1e-9)
