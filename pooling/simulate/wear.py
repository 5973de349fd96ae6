"""One invented wear as a wear record, ready to be written as JSON."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pooling.faults import PLAUSIBLE
from pooling.simulate.law import ELAPSED_STEP_MIN, Effects, Law, draw_worn_min
from pooling.units import MG_DL, MMOL_L, from_mg_dl
from pooling.vocabulary import METER_CLASSES, SKIN_GRADES

Record = dict[str, Any]

# What the displays of this invented community can show.
DISPLAY_MG_DL = (40.0, 500.0)
FINGERSTICK_MG_DL = (45.0, 400.0)
TYPICAL_FINGERSTICK_MG_DL = 140.0
FINGERSTICK_LOG_SD = 0.4
GLUCOSE_MEMORY_MIN = 180.0
REPLICATE_SD = 0.03
DECIMALS: Mapping[str, int] = MappingProxyType({MG_DL: 0, MMOL_L: 1})

FEW_PAIRS_FRAC = 0.05
REPLICATE_FRAC = 0.05
DISPLAY_SOURCE_FRAC = 0.25

PROMPTS = {"scheduled": 0.88, "doubt": 0.09, "other": 0.03}
END_REASONS = {
    "fell_off": 0.30,
    "knocked_off": 0.22,
    "device_error": 0.16,
    "signal_loss": 0.08,
    "removed_skin": 0.10,
    "removed_pain": 0.04,
    "removed_inaccurate": 0.04,
    "removed_other": 0.06,
}
SKIN_SIGNS_BY_GRADE = (
    (),
    ("redness",),
    ("itch", "redness"),
    ("itch", "bumps"),
    ("itch", "redness", "blister"),
)
SKIN_GRADE_SHARES = (0.62, 0.22, 0.12, 0.04)
RATING_MEAN, RATING_SD = 7.0, 2.0
TAKEN_OFF_FOR_SKIN = len(SKIN_GRADES) - 1


@dataclass(frozen=True, slots=True)
class WearCircumstances:
    """What is settled about a wear before its readings: where, which model, which unit, which deviations."""

    site: str
    sensor_model: str
    glucose_unit: str
    effects: Effects
    rated_by: str = "self"
    n_pairs: int | None = None


def draw_wear(rng: np.random.Generator, law: Law, wear: WearCircumstances) -> Record:
    """A wear record under the law: readings, how it ended, skin, ratings and circumstances."""
    worn_min = draw_worn_min(rng, law.rated_life_days[wear.sensor_model])
    completed = worn_min == law.rated_life_days[wear.sensor_model] * 1440
    return _record(rng, wear, worn_min, completed, _pairs(rng, law, wear, worn_min))


def draw_lost_wear(rng: np.random.Generator, wear: WearCircumstances) -> Record:
    """A wear that came off within hours, before any fingerstick: it still counts for days on skin."""
    worn_min = ELAPSED_STEP_MIN * int(rng.integers(12, 144))
    record = _record(rng, wear, worn_min, False, [])
    return record | {"end_reason": "fell_off"}


def with_absurd_values(record: Record) -> Record:
    """The same wear with readings at the ends of what a record may hold, the worst skin and the worst ratings."""
    low, high = (_number(end, record["glucose_unit"]) for end in PLAUSIBLE[record["glucose_unit"]])
    pairs = [
        pair | {"reference": low, "sensor": high, "sensor_mark": None, "replicate": None} for pair in record["pairs"]
    ]
    worst_skin = {"grade": TAKEN_OFF_FOR_SKIN, "signs": list(SKIN_SIGNS_BY_GRADE[TAKEN_OFF_FOR_SKIN])}
    worst_ratings = record["ratings"] | {"ease": 0, "comfort": 0, "discretion": 0}
    return record | {"end_reason": "removed_skin", "skin": worst_skin, "ratings": worst_ratings, "pairs": pairs}


def _record(
    rng: np.random.Generator, wear: WearCircumstances, worn_min: int, completed: bool, pairs: list[Record]
) -> Record:
    end_reason = "completed" if completed else _choice(rng, END_REASONS)
    randomised = rng.random() < 0.15
    return {
        "format": "wear-record/1",
        "glucose_unit": wear.glucose_unit,
        "sensor_model": wear.sensor_model,
        "site": wear.site,
        "side": _choice(rng, {"left": 0.5, "right": 0.5}),
        "worn_min": worn_min,
        "end_reason": end_reason,
        "meter_class": str(rng.choice(METER_CLASSES, p=(0.2, 0.6, 0.1, 0.1))),
        "assignment": "randomised" if randomised else _choice(rng, {"chosen": 0.9, "only_option": 0.1}),
        "plan": rng.bytes(16).hex() if randomised else None,
        "calibrated": False,
        "conditions": _conditions(rng),
        "events": _events(rng, worn_min),
        "skin": _skin(rng, end_reason),
        "ratings": _ratings(rng, wear.rated_by),
        "pairs": pairs,
    }


def _pairs(rng: np.random.Generator, law: Law, wear: WearCircumstances, worn_min: int) -> list[Record]:
    elapsed_min = _elapsed_min(rng, worn_min, wear.n_pairs or _draw_n_pairs(rng))
    fingerstick = TYPICAL_FINGERSTICK_MG_DL * np.exp(FINGERSTICK_LOG_SD * _path(rng, elapsed_min))
    reference = displayed(np.clip(fingerstick, *FINGERSTICK_MG_DL), wear.glucose_unit)
    cell = law.cell(wear.site, wear.sensor_model)
    sensor = reference * np.exp(law.log_ratios(rng, cell, wear.effects, elapsed_min))
    from_trace = rng.random() >= DISPLAY_SOURCE_FRAC
    return [
        _pair(rng, int(elapsed), float(ref), float(value), wear.glucose_unit, from_trace)
        for elapsed, ref, value in zip(elapsed_min, reference, sensor, strict=True)
    ]


def _path(rng: np.random.Generator, elapsed_min: NDArray[np.int64]) -> NDArray[np.float64]:
    """Standard normal values that resemble each other where little time lies between them, as glucose does."""
    value = rng.standard_normal(elapsed_min.size)
    resemblance = np.exp(-np.diff(elapsed_min) / GLUCOSE_MEMORY_MIN)
    for at, share in enumerate(resemblance, start=1):
        value[at] = share * value[at - 1] + np.sqrt(1 - share**2) * value[at]
    return value


def _pair(
    rng: np.random.Generator, elapsed_min: int, reference: float, sensor: float, unit: str, from_trace: bool
) -> Record:
    low, high = displayed(np.array(DISPLAY_MG_DL), unit)
    mark = "below" if sensor < low else "above" if sensor > high else None
    replicate = reference * (1 + rng.normal(0, REPLICATE_SD)) if rng.random() < REPLICATE_FRAC else None
    return {
        "elapsed_min": elapsed_min,
        "reference": _number(reference, unit),
        "sensor": None if mark else _number(sensor, unit),
        "sensor_mark": mark,
        "prompt": _choice(rng, PROMPTS),
        "source": "trace" if from_trace else "display",
        "rate_mg_dl_min": round(float(np.clip(rng.normal(0, 0.9), -4, 4)), 1) if from_trace else None,
        "gap_min": int(rng.integers(0, 6)) if from_trace else None,
        "replicate": None if replicate is None else _number(replicate, unit),
    }


def displayed(glucose_mg_dl: NDArray[np.float64], unit: str) -> NDArray[np.float64]:
    """Readings as a display shows them: whole mg/dL, or mmol/L with one decimal.

    >>> displayed(np.array([99.6, 180.2]), "mg/dL").tolist(), displayed(np.array([99.6, 180.2]), "mmol/L").tolist()
    ([100.0, 180.0], [5.5, 10.0])
    """
    return from_mg_dl(glucose_mg_dl, unit).round(DECIMALS[unit])


def _number(value: float, unit: str) -> int | float:
    return round(value) if DECIMALS[unit] == 0 else round(value, DECIMALS[unit])


def _draw_n_pairs(rng: np.random.Generator) -> int:
    """Mostly 20 to 80, now and then too few to be pooled."""
    if rng.random() < FEW_PAIRS_FRAC:
        return int(rng.integers(3, 10))
    return int(np.clip(np.exp(rng.normal(np.log(40), 0.4)), 20, 80))


def _elapsed_min(rng: np.random.Generator, worn_min: int, n_pairs: int) -> NDArray[np.int64]:
    n_steps = worn_min // ELAPSED_STEP_MIN
    steps = rng.choice(n_steps, size=min(n_pairs, n_steps), replace=False)
    return ELAPSED_STEP_MIN * (np.sort(steps) + 1)


def _choice(rng: np.random.Generator, shares: Mapping[str, float]) -> str:
    edge = rng.random() * sum(shares.values())
    for word, share in shares.items():
        edge -= share
        if edge < 0:
            return word
    return word


def _conditions(rng: np.random.Generator) -> Record:
    def some(shares: Mapping[str, float]) -> list[str]:
        return [word for word, share in shares.items() if rng.random() < share]

    return {
        "prepared": some({"washed": 0.6, "alcohol_wipe": 0.5, "shaved": 0.1, "barrier_film": 0.1, "cover_tape": 0.3}),
        "pinch": _choice(rng, {"thin": 0.2, "medium": 0.6, "thick": 0.2}),
        "exposed": some({"water": 0.7, "sport": 0.4, "heat": 0.1, "pressure": 0.2}),
        "near_insulin_site": bool(rng.random() < 0.05),
        "spot_rested_days": int(rng.integers(7, 90)),
        "interferent": False,
    }


def _events(rng: np.random.Generator, worn_min: int) -> list[Record]:
    kinds = [
        kind for kind, share in {"edge_lift": 0.15, "knock": 0.1, "bleeding": 0.04}.items() if rng.random() < share
    ]
    minutes = sorted(int(step) for step in rng.integers(0, worn_min // ELAPSED_STEP_MIN, len(kinds)))
    return [{"kind": kind, "elapsed_min": ELAPSED_STEP_MIN * step} for kind, step in zip(kinds, minutes, strict=True)]


def _skin(rng: np.random.Generator, end_reason: str) -> Record:
    grade = int(rng.choice(len(SKIN_GRADE_SHARES), p=SKIN_GRADE_SHARES))
    if end_reason == "removed_skin":
        grade = TAKEN_OFF_FOR_SKIN
    return {"grade": grade, "signs": list(SKIN_SIGNS_BY_GRADE[grade])}


def _ratings(rng: np.random.Generator, rated_by: str) -> Record:
    drawn = np.clip(np.round(rng.normal(RATING_MEAN, RATING_SD, 3)), 0, 10)
    ease, comfort, discretion = (int(value) for value in drawn)
    return {"ease": ease, "comfort": comfort, "discretion": discretion, "rated_by": rated_by}
