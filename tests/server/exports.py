"""Exports of an invented wear, and how a client sends them to be looked at."""

import json
import math
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile

PREVIEW = "/api/v1/wears/preview/"
INSERTED = datetime.fromisoformat("2031-01-17T03:11:27")
ENDED = INSERTED + timedelta(days=3)
TIMES = {"inserted": INSERTED.isoformat(), "ended": ENDED.isoformat()}
WORDS = ("moment of the quokka", "sensor glucose (mg/dL)")
OF_THE_RECORD = {
    "sensor_model": "demo-a14",
    "site": "thigh.front",
    "end_reason": "fell_off",
    "assignment": "chosen",
}


def trace(n_readings: int = 288 * 3) -> list[tuple[datetime, float]]:
    """Every five minutes at an odd second, glucose going up and down as meals would have it, with two odd decimals."""
    return [(INSERTED + timedelta(minutes=5 * k), round(_level(5 * k / 60), 2)) for k in range(n_readings)]


def _level(hours: float) -> float:
    return 150 + 60 * math.sin(hours / 0.87) + 25 * math.sin(hours / 3.1 + 1) + 12 * math.sin(hours / 0.29)


def sensor_export(readings: Sequence[tuple[datetime, float]] | None = None, *, words: Sequence[str] = WORDS) -> bytes:
    rows = (f"{when:%Y-%m-%d %H:%M:%S};{value:.2f}" for when, value in readings or trace())
    return "\n".join([";".join(words), *rows, ""]).encode()


def meter_export(*, every: int = 40) -> bytes:
    """A fingerstick beside every so many readings, two minutes later."""
    rows = (f"{when + timedelta(minutes=2):%Y-%m-%d %H:%M:%S};{value * 1.05:.0f}" for when, value in trace()[20::every])
    return "\n".join(["taken;fingerstick (mg/dL)", *rows, ""]).encode()


def preview(member: Any, *files: bytes, told: Any = None, **more: Any) -> Any:
    """Send files to be looked at; `told` is what becomes JSON, or text as it is."""
    parts: dict[str, Any] = {"file": [SimpleUploadedFile("export", data) for data in files]}
    if told is not None:
        parts["told"] = told if isinstance(told, str) else json.dumps(told)
    return member.api.post(PREVIEW, parts, format="multipart", **more)
