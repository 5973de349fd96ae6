"""An invented wear as two instruments would export it, with known truth: a sensor's trace, a meter's fingersticks."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from pooling.importing.types import ABOVE, BELOW, NUMBER, Series
from pooling.simulate.wear import DISPLAY_MG_DL, FINGERSTICK_LOG_SD, FINGERSTICK_MG_DL, TYPICAL_FINGERSTICK_MG_DL

START = np.datetime64("2031-03-01T08:00:00", "s")
PERSISTENCE_MIN = 45.0
LAG_MIN = 6.0
SENSOR_SLOW_SD, SENSOR_FAST_SD = 0.07, 0.03
SENSOR_PERSISTENCE_MIN = 180.0
METER_SD = 0.05
SECOND_STRIP_FRAC = 0.1

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class InventedExports:
    """Both instruments of one wear. The meter's clock runs `offset_min` ahead of the sensor's."""

    sensor: Series
    meter: Series
    inserted: np.datetime64
    ended: np.datetime64
    offset_min: float


def draw_exports(
    rng: np.random.Generator,
    *,
    n_days: float = 10.0,
    spacing_min: int = 5,
    n_fingersticks: int = 40,
    offset_min: float = 0.0,
    location: float = 0.0,
) -> InventedExports:
    """Draw glucose minute by minute, a sensor that trails it and scatters, and a meter with an error of its own.

    Glucose is log-normal with the mean and spread of the community's fingersticks and smooth over three quarters of an
    hour; the sensor trails it by six minutes; nearby sensor errors resemble each other.
    """
    minute = np.arange(round(n_days * 1440))
    glucose = TYPICAL_FINGERSTICK_MG_DL * np.exp(FINGERSTICK_LOG_SD * _smooth(rng, minute.size))
    glucose = np.clip(glucose, *FINGERSTICK_MG_DL)
    keep = LAG_MIN / (1 + LAG_MIN)
    trailing, _ = lfilter([1 - keep], [1, -keep], glucose, zi=[keep * glucose[0]])
    at = np.arange(0, minute.size, spacing_min)
    error = location + SENSOR_SLOW_SD * _drawn_out(rng, at.size, spacing_min / SENSOR_PERSISTENCE_MIN)
    shown = np.rint(trailing[at] * np.exp(error + SENSOR_FAST_SD * rng.standard_normal(at.size)))
    mark = np.select([shown < DISPLAY_MG_DL[0], shown > DISPLAY_MG_DL[1]], [BELOW, ABOVE], NUMBER).astype(np.int8)
    sensor = _series(60 * at, np.where(mark == NUMBER, shown, np.nan), mark)
    return InventedExports(
        sensor,
        _meter(rng, glucose, n_fingersticks, round(60 * offset_min)),
        START,
        START + np.timedelta64(60 * minute.size + 59, "s"),
        offset_min,
    )


def _meter(rng: np.random.Generator, glucose: Floats, n_fingersticks: int, offset_s: int) -> Series:
    at = np.sort(rng.choice(glucose.size, size=n_fingersticks, replace=False))
    second = 60 * at + rng.integers(60, size=at.size)
    again = rng.random(at.size) < SECOND_STRIP_FRAC
    place = np.concatenate([at, at[again]])
    second = np.concatenate([second, second[again] + rng.integers(30, 110, size=int(again.sum()))])
    order = np.argsort(second, kind="stable")
    shown = np.rint(glucose[place] * np.exp(METER_SD * rng.standard_normal(place.size)))
    return _series((second + offset_s)[order], shown[order], np.zeros(place.size, dtype=np.int8))


def _series(second: NDArray[np.int64], mg_dl: Floats, mark: NDArray[np.int8]) -> Series:
    return Series(START + second.astype("timedelta64[s]"), mg_dl, mark, np.arange(2, second.size + 2))


def _smooth(rng: np.random.Generator, size: int) -> Floats:
    """A smooth path with unit variance: noise drawn out twice."""
    keep = np.exp(-1 / PERSISTENCE_MIN)
    twice = lfilter([1.0], [1, -2 * keep, keep**2], rng.standard_normal(size + 2000))[2000:]
    variance = (1 + keep**2) / (1 - keep**2) ** 3
    return np.asarray(twice / np.sqrt(variance), dtype=np.float64)


def _drawn_out(rng: np.random.Generator, size: int, step: float) -> Floats:
    """Noise of unit variance whose memory fades by exp(-step) a step."""
    keep = np.exp(-step)
    start = rng.standard_normal()
    noise = np.sqrt(1 - keep**2) * rng.standard_normal(size)
    path, _ = lfilter([1.0], [1, -keep], noise, zi=[keep * start])
    return np.asarray(path, dtype=np.float64)
