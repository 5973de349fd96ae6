from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import kstat

from pooling.errors import InvalidInput
from pooling.sealing.version import CHANNELS, SEAL_VERSION_1
from pooling.sealing.wear import Strata, has_accuracy, kurtosis_parts, wear_values
from tests.calibration.pools import Stratum


def stratum(n_pairs=24, seed=3):
    return Stratum.of(0.02 + 0.1 * np.random.default_rng(seed).standard_normal(n_pairs))


def values(*strata, n_far=0, version=SEAL_VERSION_1):
    return wear_values(Strata.of(strata), np.full(len(strata), n_far), version)


def test_fewer_than_eight_pairs_never_enter():
    few = stratum(7)
    assert not has_accuracy(few)
    assert has_accuracy(stratum(8))
    with pytest.raises(InvalidInput, match="needs 8 pairs"):
        Strata.of([stratum(8), few])


def test_a_stuck_sensor_has_no_log_variance():
    assert not has_accuracy(replace(stratum(), s=0.0))


def test_weights_depend_on_the_number_of_pairs_alone():
    value, _, _, weight, _ = values(stratum(seed=3), stratum(seed=4), stratum(100))
    assert (value[:3, 0] != value[:3, 1]).all()
    assert (weight[:, 0] == weight[:, 1]).all()
    assert (weight[:, 2] > weight[:, 0]).all()


@pytest.mark.parametrize("channel", ["location", "dispersion", "direct"])
def test_value_is_unbiased_and_its_stated_noise_is_its_variance(channel):
    """4,000 wears of 12 normal readings: mean and variance within four Monte Carlo errors; kurtosis set to normal."""
    version = replace(SEAL_VERSION_1, kurtosis=0.0)
    rng = np.random.default_rng(11)
    sigma, n_wears = 0.08, 4000
    found = values(*(Stratum.of(sigma * rng.standard_normal(12)) for _ in range(n_wears)), version=version)
    row = CHANNELS.index(channel)
    value, noise = found.value[row], found.noise[row]
    truth = {
        "location": 0.0,
        "dispersion": 2 * np.log(sigma),
        # E|exp(Z)-1| for normal Z with this sd, by quadrature.
        "direct": np.trapezoid(
            np.abs(np.expm1(sigma * (x := np.linspace(-8, 8, 20001)))) * np.exp(-x * x / 2) / np.sqrt(2 * np.pi), x
        ),
    }[channel] - version.channels[channel].reference
    assert value.mean() == pytest.approx(truth, abs=4 * value.std() / np.sqrt(n_wears))
    assert noise.mean() / value.var() == pytest.approx(1, abs=0.1)


def test_rates_are_shares_of_pairs():
    wear = stratum(40)
    rate15, rate20, tail = values(wear, n_far=3).value[3:, 0]
    assert (rate15 + 0.8, rate20 + 0.9, tail + 0.005) == pytest.approx((wear.k15 / 40, wear.k20 / 40, 3 / 40))


def test_kurtosis_is_fishers_k4_over_k2_squared():
    """Against scipy.stats.kstat on the readings themselves."""
    readings = np.random.default_rng(5).standard_t(5, 30)
    (found,) = kurtosis_parts(Strata.of([Stratum.of(readings)]))
    assert found == pytest.approx(kstat(readings, 4) / kstat(readings, 2) ** 2, rel=1e-9)
