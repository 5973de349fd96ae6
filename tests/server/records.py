"""Wear records of an invented scenario, as a member's device would send them."""

from __future__ import annotations

import json
from datetime import date
from typing import Any

import numpy as np

SENSOR_MODEL = "demo-a14"
A_CHILD = {"relation": "child", "age_class": "child", "of_age_month": date(2040, 5, 1), "guardian": True}
CHILD = A_CHILD | {"of_age_month": "2040-05-01"}


def pairs(n_pairs: int = 20, *, seed: int = 1, worn_min: int = 20_000) -> list[dict[str, Any]]:
    """Fingersticks spread over the wear, with sensor readings about a tenth off."""
    rng = np.random.default_rng(seed)
    reference = rng.integers(61, 260, n_pairs)
    sensor = np.clip(np.round(reference * np.exp(0.1 * rng.standard_normal(n_pairs))), 40, 400).astype(int)
    minutes = np.linspace(60, worn_min - 60, n_pairs).astype(int)
    return [
        {
            "elapsed_min": int(minute),
            "reference": int(value),
            "sensor": int(shown),
            "prompt": "scheduled",
            "source": "trace",
            "rate_mg_dl_min": 0.5,
            "gap_min": 4,
        }
        for minute, value, shown in zip(minutes, reference, sensor, strict=True)
    ]


def record(*, n_pairs: int = 20, seed: int = 1, **changes: Any) -> dict[str, Any]:
    """One finished wear; another seed gives other readings."""
    return {
        "format": "wear-record/1",
        "glucose_unit": "mg/dL",
        "sensor_model": SENSOR_MODEL,
        "site": "thigh.front",
        "side": "left",
        "worn_min": 20_000,
        "end_reason": "completed",
        "meter_class": "within-15-pct",
        "assignment": "chosen",
        "plan": "an-opaque-token",
        "calibrated": False,
        "skin": {"grade": 1, "signs": ["itch"]},
        "ratings": {"ease": 8, "comfort": 6, "discretion": 9, "rated_by": "self"},
        "pairs": pairs(n_pairs, seed=seed),
        **changes,
    }


def raw(**changes: Any) -> bytes:
    return json.dumps(record(**changes)).encode()
