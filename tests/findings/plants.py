"""One fault at a time, put into an invented wear that is good without it: into a record, or into two exports."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from pooling.importing.types import Series
from pooling.simulate.trace import InventedExports
from pooling.units import MG_DL, MG_DL_PER_MMOL_L, to_mg_dl

Record = dict[str, Any]
PlantInRecord = Callable[[np.random.Generator, Record], Record | None]
PlantInExports = Callable[[np.random.Generator, InventedExports], InventedExports]


def _every(record: Record, change: Callable[[Record], Record]) -> Record:
    return record | {"pairs": [pair | change(pair) for pair in record["pairs"]]}


def _some(rng: np.random.Generator, record: Record, n_some: int, change: Callable[[Record], Record]) -> Record:
    chosen = set(rng.choice(np.arange(1, len(record["pairs"]) - 1), size=n_some, replace=False).tolist())
    pairs = [pair | change(pair) if at in chosen else pair for at, pair in enumerate(record["pairs"])]
    return record | {"pairs": pairs}


def _shown(record: Record, mg_dl: float) -> float:
    return round(mg_dl) if record["glucose_unit"] == MG_DL else round(mg_dl / MG_DL_PER_MMOL_L, 1)


def _one_pair_in_two_units(rng: np.random.Generator, record: Record) -> Record | None:
    if record["glucose_unit"] != MG_DL:
        return None
    return _some(rng, record, 1, lambda _: {"reference": 400, "sensor": 22.4, "sensor_mark": None})


def _copied(rng: np.random.Generator, record: Record) -> Record:
    return _every(
        record, lambda pair: {"sensor": pair["reference"], "sensor_mark": None} if rng.random() < 0.97 else {}
    )


def _constant(rng: np.random.Generator, record: Record) -> Record:
    step = _shown(record, 7)
    return _every(record, lambda pair: {"sensor": round(pair["reference"] + step, 1), "sensor_mark": None})


def _stuck(rng: np.random.Generator, record: Record) -> Record:
    return _every(record, lambda _: {"sensor": _shown(record, 120), "sensor_mark": None})


def _fast(rng: np.random.Generator, record: Record) -> Record:
    return _some(rng, record, 1, lambda _: {"rate_mg_dl_min": 12.0})


def _jump(rng: np.random.Generator, record: Record) -> Record:
    """A fingerstick ten minutes after another, with a hundred and fifty mg/dL between them."""
    at = int(rng.integers(1, len(record["pairs"]) - 1))
    one = record["pairs"][at]
    up = float(to_mg_dl(one["reference"], record["glucose_unit"])) < 200
    factor_free = float(to_mg_dl(one["reference"], record["glucose_unit"])) + (200 if up else -170)
    other = one | {"elapsed_min": one["elapsed_min"] + 10, "reference": _shown(record, factor_free), "replicate": None}
    return record | {"worn_min": record["worn_min"] + 10, "pairs": [*record["pairs"], other]}


def _pressed(rng: np.random.Generator, record: Record) -> Record:
    def change(_: Record) -> Record:
        reference = rng.uniform(95, 150)
        return {"reference": _shown(record, reference), "sensor": _shown(record, 42), "sensor_mark": None}

    return _some(rng, record, 2, change)


def _noisy_meter(rng: np.random.Generator, record: Record) -> Record:
    def change(pair: Record) -> Record:
        again = pair["reference"] * np.exp(np.sqrt(2) * 0.15 * rng.standard_normal())
        return {"replicate": float(np.clip(round(again, 1), 1.2 if record["glucose_unit"] != MG_DL else 21, 590))}

    return _some(rng, record, 15, change) | {"meter_class": "within-15-pct"}


def _rounded(rng: np.random.Generator, record: Record) -> Record | None:
    if record["glucose_unit"] != MG_DL:
        return None
    return _every(record, lambda pair: {"reference": round(pair["reference"], -1)} if rng.random() < 0.8 else {})


def _doubted(rng: np.random.Generator, record: Record) -> Record:
    return _every(record, lambda _: {"prompt": "doubt"})


def _high_only(rng: np.random.Generator, record: Record) -> Record:
    def change(pair: Record) -> Record:
        reference = _shown(record, rng.uniform(185, 300))
        ratio = min(1.8, pair["sensor"] / pair["reference"]) if pair["sensor"] else 1.0
        return {"reference": reference, "sensor": round(reference * ratio, 1), "sensor_mark": None, "replicate": None}

    return _every(record, change)


def _repeated(rng: np.random.Generator, record: Record) -> Record:
    return record | {"pairs": [*record["pairs"], record["pairs"][int(rng.integers(len(record["pairs"])))]]}


IN_RECORDS: dict[str, tuple[str, str, PlantInRecord]] = {
    "one pair in two units": (
        "wrong_unit",
        "one pair with the sensor in mmol/L in a record in mg/dL",
        _one_pair_in_two_units,
    ),
    "copied": ("copied_readings", "97 % of sensor readings are the fingerstick", _copied),
    "constant": ("constant_offset", "sensor always 7 mg/dL above the fingerstick", _constant),
    "stuck": ("stuck_sensor", "sensor always 120 mg/dL", _stuck),
    "rate": ("impossible_rates", "one rate of 12 mg/dL a minute", _fast),
    "jump": ("impossible_rates", "two fingersticks ten minutes and 170 mg/dL or more apart", _jump),
    "pressed": ("pressure_lows", "sensor 42 mg/dL beside two fingersticks of 95 to 150", _pressed),
    "noisy meter": (
        "meter_noise",
        "15 second strips of a meter with 15 % noise, stated to stay within 15 %",
        _noisy_meter,
    ),
    "rounded": ("digit_preference", "80 % of fingersticks rounded to tens", _rounded),
    "doubted": ("all_in_doubt", "every fingerstick in doubt", _doubted),
    "high": ("one_sided_range", "every fingerstick above 180 mg/dL", _high_only),
    "repeated": ("repeated_pairs", "one pair twice", _repeated),
}
"""By name: the finding that should be made, the fault in words, and how it is planted (None: not in this wear)."""


def _with(series: Series, **columns: Any) -> Series:
    return Series(**({name: getattr(series, name) for name in ("time", "mg_dl", "mark", "line")} | columns))


def _kept(series: Series, kept: np.ndarray) -> Series:
    return Series(*(getattr(series, name)[kept] for name in ("time", "mg_dl", "mark", "line")))


def _sensor_in_mmol(rng: np.random.Generator, exports: InventedExports) -> InventedExports:
    sensor = exports.sensor
    return replace(exports, sensor=_with(sensor, mg_dl=sensor.mg_dl / MG_DL_PER_MMOL_L))


def _zeros(rng: np.random.Generator, exports: InventedExports) -> InventedExports:
    mg_dl = exports.sensor.mg_dl.copy()
    mg_dl[rng.integers(mg_dl.size, size=3)] = 0
    return replace(exports, sensor=_with(exports.sensor, mg_dl=mg_dl, mark=np.zeros_like(exports.sensor.mark)))


def _other_month(rng: np.random.Generator, exports: InventedExports) -> InventedExports:
    later = exports.meter.time + np.timedelta64(40, "D")
    return replace(exports, meter=_with(exports.meter, time=later))


def _gaps(rng: np.random.Generator, exports: InventedExports) -> InventedExports:
    n_readings = exports.sensor.n_readings
    start = int(rng.integers(round(0.3 * n_readings)))
    kept = np.ones(n_readings, dtype=bool)
    kept[start : start + round(0.7 * n_readings)] = False
    return replace(exports, sensor=_kept(exports.sensor, kept))


def _other_clock(rng: np.random.Generator, exports: InventedExports) -> InventedExports:
    offset_min = int(rng.choice([-1, 1])) * int(rng.integers(30, 720))
    later = exports.meter.time + np.timedelta64(60 * offset_min, "s")
    return replace(exports, meter=_with(exports.meter, time=later), offset_min=float(offset_min))


def _spike(rng: np.random.Generator, exports: InventedExports) -> InventedExports:
    mg_dl = exports.sensor.mg_dl.copy()
    low = np.flatnonzero((mg_dl > 90) & (mg_dl < 160))
    mg_dl[rng.choice(low)] += 250
    return replace(exports, sensor=_with(exports.sensor, mg_dl=mg_dl))


IN_EXPORTS: dict[str, tuple[str, str, PlantInExports]] = {
    "sensor in mmol/L": ("wrong_unit", "a trace in mmol/L read as mg/dL", _sensor_in_mmol),
    "zeros": ("impossible_values", "three readings of 0 in the trace", _zeros),
    "other month": ("outside_wear", "fingersticks of another month", _other_month),
    "gaps": ("no_reading_near", "70 % of the trace missing", _gaps),
    "other clock": ("clocks_differ", "a meter's clock off by half an hour to twelve hours", _other_clock),
    "spike": ("impossible_rates", "one reading of the trace 250 mg/dL off", _spike),
}
