"""Invented exports written down as text, the way a person would give them."""

from datetime import datetime

import numpy as np

from pooling.preparation import Answers, Export
from pooling.simulate.trace import InventedExports, draw_exports

MARKS = {1: "below range", 2: "above range"}


def as_csv(series, title, *, factor=1.0, decimals=0):
    shown = [
        MARKS.get(int(mark)) or f"{value / factor:.{decimals}f}"
        for value, mark in zip(series.mg_dl, series.mark, strict=True)
    ]
    times = np.datetime_as_string(series.time, unit="s")
    rows = [f"{time.replace('T', ' ')};{value}" for time, value in zip(times, shown, strict=True)]
    return "\n".join([f"time;{title}", *rows]).encode()


def two_files(drawn: InventedExports) -> list[Export]:
    return [
        Export(as_csv(drawn.sensor, "sensor glucose mg/dL"), "trace.csv"),
        Export(as_csv(drawn.meter, "fingerstick mg/dL"), "meter.csv"),
    ]


def told(drawn: InventedExports, **more) -> Answers:
    inserted, ended = (datetime.fromisoformat(str(time)) for time in (drawn.inserted, drawn.ended))
    return Answers(**({"inserted": inserted, "ended": ended, "prompt": "scheduled"} | more))


def drawn(seed=31, **options) -> InventedExports:
    return draw_exports(np.random.default_rng(seed), **options)


def codes(prepared):
    return [(asked.export, asked.question.code) for asked in prepared.questions]


TYPED = (
    b"wear;site;inserted;ended;day;fingerstick mmol/l;sensor mmol/l;second strip;why\n"
    b"A;thigh.front;2031-03-01 08:00;2031-03-11 08:00;2031-03-01 12:00;5.6;5.1;5.8;planned\n"
    b"A;thigh.front;2031-03-01 08:00;2031-03-11 08:00;2031-03-02 12:00;7.6;;;planned\n"
    b"A;thigh.front;2031-03-01 08:00;2031-03-11 08:00;2031-03-03 12:30;9.4;8.8;;doubt\n"
    b"B;calf;2031-03-15 08:00;;2031-03-15 12:00;6.1;6.3;;planned\n"
    b"B;calf;2031-03-15 08:00;;2031-03-18 07:00;4.4;4.0;;planned\n"
)
